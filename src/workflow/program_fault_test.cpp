// A fault of the program in one station: that station alone says so, those that need its numbers are not asked, and
// every other one says exactly what it would have said.
#include "base/program_fault.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "base/check.h"
#include "base/input_error.h"
#include "journal/journal.h"
#include "workflow/as_json.h"
#include "workflow/commission.h"
#include "workflow/gates.h"
#include "workflow/verify.h"

namespace evenbeam::workflow {
namespace {

const Progress kSilent = [](const std::string&) {};

base::StationOutcome fails(StationInput&) {
  base::check(false, "seven is below six", {7, 6});
  return {};
}
base::StationOutcome reads_wrong_input(StationInput&) {
  throw base::InputError({.file = "some.toml", .found = "x", .expected = "y", .next = "Mend it."});
}
base::StationOutcome answers_for_another(StationInput&) { return {.result = {.name = "somebody"}}; }

base::StationOutcome passes(StationInput&) { return {.result = {.name = "nudge", .verdict = base::Verdict::pass}}; }
base::StationOutcome proposes(StationInput& bench) {
  bench.settings = machine::Settings{.period_s = 0.001, .peak_force_a_n = 100, .peak_force_b_n = 100};
  return {.result = {.name = "loops", .verdict = base::Verdict::pass}};
}

std::vector<Station> with(const std::string& name, StationFunction answer) {
  std::vector<Station> line = stations();
  for (Station& station : line)
    if (station.name == name) station.answer = answer;
  return line;
}

// The stations whose numbers stand on `name`, directly or through others, by the rows alone.
bool stands_on(const Station& station, const std::string& name, const std::vector<Station>& line) {
  if (station.does_without) return false;
  return std::any_of(station.uses.begin(), station.uses.end(), [&](const std::string& used) {
    if (used == name) return true;
    const auto below = std::find_if(line.begin(), line.end(), [&](const Station& one) { return one.name == used; });
    return below != line.end() && stands_on(*below, name, line);
  });
}

base::MemoryDisk small_job() {
  base::MemoryDisk disk;
  disk.files["job/machine.toml"] = "name = \"small\"\nspan = \"2 m\"\n";
  std::string text = "time [s],position A [mm],position B [mm]\n";
  for (int i = 0; i < 400; ++i) text += std::to_string(i * 0.001) + ",0.01,0.00\n";
  disk.files["job/recordings/1.csv"] = text;
  return disk;
}

Evaluation evaluated(const std::vector<Station>& line, Kept* kept = nullptr) {
  return evaluate(load_job(small_job(), places_of("job"), kSilent, kept), line, kSilent, kept);
}

std::string text_of(const base::StationResult& station) {
  return journal::to_text(journal::Result{.stations = {station}});
}

// A job in memory whose journal lies in a folder of its own, where SQLite can reach it.
struct Commissioning {
  base::MemoryDisk disk = small_job();
  std::string folder = std::string(EVENBEAM_BINARY_DIR) + "/program_fault_test_folder";
  CommissionRequest request{.places = places_of("job"), .program = "evenbeam test", .time = "2031-01-01T00:00:00Z"};
  Commissioning() {
    std::filesystem::remove_all(folder);
    base::make_folder(folder);
    request.places.journal = folder + "/journal.sqlite";
  }
  ~Commissioning() { std::filesystem::remove_all(folder); }
};

}  // namespace

TEST_CASE("whichever station fails, it alone says so, and all that do not stand on it say what they always say") {
  const Evaluation whole = evaluated(stations());
  CHECK(faulty_stations(whole).empty());
  for (const Station& failing : stations()) {
    CAPTURE(failing.name);
    const std::vector<Station> line = with(failing.name, fails);
    const Evaluation e = evaluated(line);
    REQUIRE(e.stations.size() == whole.stations.size());
    CHECK(faulty_stations(e) == std::vector<std::string>{failing.name});
    CHECK(exit_code(e) == 4);
    CHECK(overall_verdict(e) != base::Verdict::pass);
    for (const Station& station : line) {
      CAPTURE(station.name);
      const base::StationResult& said = *find_station(e, station.name);
      if (station.name == failing.name) {
        CHECK(said.verdict == base::Verdict::not_done);
        CHECK(said.values.empty());
        REQUIRE(base::program_fault(said) != nullptr);
        CHECK(base::program_fault(said)->text.find("seven is below six (values: 7 6)") != std::string::npos);
        CHECK(base::program_fault(said)->text.find("Its numbers, and all that depend on them, are unknown") !=
              std::string::npos);
        CHECK(base::program_fault(said)->next.find("Send us") != std::string::npos);
      } else if (stands_on(station, failing.name, line)) {
        CHECK(said.verdict == base::Verdict::not_done);
        CHECK(said.values.empty());
        CHECK(base::unknown_by_fault(said));
      } else if (!station.does_without) {
        CHECK(text_of(said) == text_of(*find_station(whole, station.name)));
      } else {
        CHECK_FALSE(base::unknown_by_fault(said));
      }
    }
    REQUIRE(e.recordings.size() == 1);  // back from the one that failed, whole
    CHECK(e.recordings[0].position_a_m == whole.recordings[0].position_a_m);
  }
}

TEST_CASE("a fault is tried again, and what is mended answers as if it had never been") {
  const Evaluation whole = evaluated(stations());
  Kept kept;
  const Evaluation faulty = evaluated(with("fit", fails), &kept);
  CHECK(exit_code(faulty) == 4);
  const long answers = kept.answers_made;
  const Evaluation again = evaluated(with("fit", fails), &kept);
  CHECK(journal::to_text(result_of(again)) == journal::to_text(result_of(faulty)));
  CHECK(kept.answers_made > answers);                            // the failing ones
  CHECK(kept.answers_made < answers + long(stations().size()));  // and not those that had answered
  CHECK(journal::to_text(result_of(evaluated(stations(), &kept))) == journal::to_text(result_of(whole)));
}

TEST_CASE("what the captures tell together fails: who reads it says so, the others go on") {
  Job job = load_job(small_job(), places_of("job"), kSilent);
  job.machine.span_m = 0;  // no reader lets it through; the motion fit checks it
  std::vector<Station> line;
  for (const Station& station : stations())
    if (station.name == "survey" || station.name == "nudge" || station.name == "handover") line.push_back(station);
  const Evaluation e = evaluate(std::move(job), line, kSilent);
  CHECK(faulty_stations(e) == std::vector<std::string>{"survey", "nudge"});
  CHECK(base::program_fault(*find_station(e, "survey"))->text.find("the span is positive") != std::string::npos);
  CHECK_FALSE(base::unknown_by_fault(*find_station(e, "handover")));
  CHECK(e.recordings.at(0).position_a_m.size() > 300);
  CHECK_FALSE(e.identified);
}

TEST_CASE("wrong input in a station is no fault of the program, an answer under another's name is one") {
  CHECK_THROWS_AS(evaluated(with("prove", reads_wrong_input)), base::InputError);
  CHECK(faulty_stations(evaluated(with("prove", answers_for_another))) == std::vector<std::string>{"prove"});
}

TEST_CASE("who needs what was found, not what was said, is not served with a part of it") {
  CHECK_THROWS_AS(bench_after(load_job(small_job(), places_of("job"), kSilent), with("fit", fails), kSilent),
                  base::Bug);
}

TEST_CASE("a commission with a fault keeps its record whole: journal, result and report name it, exit code 4") {
  Commissioning bench;
  const std::vector<Station> line = with("trips", fails);
  const Commissioned done = commission(bench.disk, bench.request, line, kSilent);
  CHECK(to_json(done)["exit_code"] == 4);
  const std::string result = bench.disk.files.at("job/results/result.json");
  const journal::Result read = journal::read_result(result, "result.json");
  REQUIRE(read.stations.size() == stations().size() + 1);
  CHECK(std::any_of(read.stations.begin(), read.stations.end(),
                    [](const base::StationResult& one) { return base::program_fault(one) != nullptr; }));
  CHECK(bench.disk.files.at("job/results/report.html").find("seven is below six") != std::string::npos);
  const auto entries = journal::read_entries(bench.request.places.journal);
  REQUIRE(entries.size() == 1);
  CHECK(journal::chain_troubles(entries).empty());
  CHECK(verify(bench.disk, bench.request.places, entries).empty());
}

TEST_CASE("settings are not accepted while a fault keeps unknown what a station above them would say") {
  for (const StationFunction nudge : {StationFunction(fails), StationFunction(passes)}) {
    Commissioning bench;
    bench.request.accept = true;
    bench.request.by = "Ada";
    const Commissioned done =
        commission(bench.disk, bench.request,
                   {{"nudge", "?", {}, {}, {}, nudge}, {"loops", "?", {"nudge"}, {}, {}, proposes}}, kSilent);
    CHECK(done.accepted_by == (nudge == passes ? "Ada" : ""));
    if (nudge == fails) CHECK(done.remarks.at(0).find("keeps unknown what nudge would say") != std::string::npos);
  }
}

TEST_CASE(
    "a fault above a station might be a stop: no capture, no acceptance; else it is told before any attention") {
  const auto outcome = [](const std::string& name, base::Verdict verdict) {
    return base::StationOutcome{.result = {.name = name,
                                           .verdict = verdict,
                                           .findings = {{.id = "seen", .verdict = verdict, .text = "Seen."}}}};
  };
  const auto answered = [](StationInput&) { return base::StationOutcome{}; };
  const CaptureSheet sheet{"push", "A", "none", "50 ms", "all", "skew"};
  const std::vector<Station> line{{"limits", "?", {}, {}, sheet, answered},
                                  {"nudge", "?", {"limits"}, {}, sheet, answered},
                                  {"loops", "?", {"nudge"}, {}, sheet, answered},
                                  {"square", "?", {}, {}, sheet, answered}};
  Evaluation e;
  e.settings = machine::Settings{};
  e.stations = {base::ended_by_fault("limits", "file.cpp:1: rule"), outcome("nudge", base::Verdict::not_done),
                outcome("loops", base::Verdict::pass), outcome("square", base::Verdict::not_done)};
  CHECK(unknown_above("loops", e, line) == std::vector<std::string>{"limits"});
  CHECK(next_step(e, line).station == "square");  // the one that has nothing faulty above it
  e.stations[3] = outcome("square", base::Verdict::attention);
  NextStep next = next_step(e, line);
  CHECK(next.kind == NextStep::Kind::report_fault);
  CHECK(next.station == "limits");
  CHECK(next.why.find("file.cpp:1: rule") != std::string::npos);
  CHECK(to_json(next)["kind"] == "report_fault");
  e.stations[1] = outcome("nudge", base::Verdict::stop);
  CHECK(next_step(e, line).kind == NextStep::Kind::answer_stop);
}

}  // namespace evenbeam::workflow
