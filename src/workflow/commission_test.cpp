#include "workflow/commission.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>

#include "base/input_error.h"
#include "base/message_of_test.h"
#include "journal/journal.h"
#include "workflow/demo_files.h"
#include "workflow/new_job.h"
#include "workflow/verify.h"

namespace evenbeam::workflow {
namespace {

const Progress kSilent = [](const std::string&) {};

base::StationOutcome stopped(StationInput& bench) {
  bench.settings = machine::Settings{.period_s = 0.001, .peak_force_a_n = 100, .peak_force_b_n = 100};
  bench.settings->mean.velocity_gain_n_s_per_m = 1000;
  return {.result = {.name = "loops",
                     .verdict = base::Verdict::stop,
                     .findings = {
                         {.id = "rings", .verdict = base::Verdict::stop, .text = "It rings.", .next = "Mend it."}}}};
}

std::vector<Station> stopping_line() { return {{"loops", "?", {}, {}, {}, stopped}}; }

// A job in memory; its journal, which SQLite wants on a real disk, in a folder of its own.
struct TestJob {
  base::MemoryDisk disk;
  std::string folder = std::string(EVENBEAM_BINARY_DIR) + "/commission_test_folder";
  CommissionRequest request;
  TestJob() {
    std::filesystem::remove_all(folder);
    base::make_folder(folder);
    disk.files["job/machine.toml"] = "name = \"small\"\nspan = \"2 m\"\n";
    request = {.places = places_of("job"), .program = "evenbeam test", .time = "2031-01-01T00:00:00Z"};
    request.places.journal = folder + "/journal.sqlite";
  }
  ~TestJob() { std::filesystem::remove_all(folder); }
  Commissioned run(const std::vector<Station>& line) { return commission(disk, request, line, kSilent); }
};

}  // namespace

TEST_CASE("a job with nothing but a span is evaluated, recorded and reported, twice with the same bytes") {
  TestJob bench;
  const Commissioned first = bench.run(stations());
  const std::string result = bench.disk.files.at("job/results/result.json");
  const std::string report = bench.disk.files.at("job/results/report.html");
  CHECK(first.entry == 1);
  CHECK(journal::read_result(result, "r").job == "small");
  CHECK(journal::read_result(result, "r").stations.size() == stations().size() + 1);
  bench.request.time = "2031-02-02T00:00:00Z";
  CHECK(bench.run(stations()).entry == 2);
  CHECK(bench.disk.files.at("job/results/result.json") == result);
  CHECK(bench.disk.files.at("job/results/report.html") == report);
  const auto entries = journal::read_entries(bench.request.places.journal);
  CHECK(journal::chain_troubles(entries).empty());
  CHECK(verify(bench.disk, bench.request.places, entries).empty());
}

TEST_CASE("verification names the file that changed, vanished or was tampered with") {
  TestJob bench;
  bench.run(stations());
  const auto entries = journal::read_entries(bench.request.places.journal);
  bench.disk.files["job/machine.toml"] += "# later\n";
  CHECK(verify(bench.disk, bench.request.places, entries) ==
        std::vector<std::string>{"job/machine.toml has other content since entry 1 of 2031-01-01T00:00:00Z"});
  bench.disk.files.erase("job/machine.toml");
  bench.disk.files["job/results/result.json"][20] ^= 1;
  CHECK(verify(bench.disk, bench.request.places, entries).size() == 2);
}

TEST_CASE("of many captures one lacks units alone: they are asked for before anything new is recorded") {
  const std::vector<std::string> heads{"time [s],position A,position B\n", "time [s],note A,note B\n"};
  for (const std::string& head : heads) {
    CAPTURE(head);
    TestJob bench;
    std::string rows;
    for (int i = 0; i < 400; ++i) rows += std::to_string(i * 0.001) + ",0.5,0.5\n";
    for (const char* name : {"1", "2", "3"})
      bench.disk.files[std::string("job/recordings/") + name + ".csv"] =
          "time [s],position A [mm],position B [mm]\n" + rows;
    bench.disk.files["job/recordings/other.csv"] = head + rows;
    const Commissioned done = bench.run(stations());
    const NextStep next = next_step(done.evaluation, stations());
    CHECK((next.station == "recordings") == (head == heads[0]));
    if (head == heads[0]) CHECK(next.why.find("no unit for") != std::string::npos);
  }
}

TEST_CASE("one broken capture gives its message and the others count") {
  TestJob bench;
  bench.disk.files["job/recordings/broken.csv"] = "no numbers here\n";
  bench.disk.files["job/recordings/gone.csv"] = "x";
  bench.disk.files["job/recordings/notes.md"] = "# not a capture";
  bench.disk.vanishing.insert("job/recordings/gone.csv");
  std::string good = "time [s],position A [mm],position B [mm]\n";
  for (int i = 0; i < 400; ++i) good += std::to_string(i * 0.001) + ",0.5,0.5\n";
  bench.disk.files["job/recordings/good.csv"] = good;
  const Commissioned done = bench.run(stations());
  const base::StationResult& recordings = *find_station(done.evaluation, "recordings");
  CHECK(recordings.verdict == base::Verdict::attention);
  CHECK(base::find_finding(recordings, "unread_broken.csv")->text.find("broken.csv could not be read") == 0);
  CHECK(base::find_finding(recordings, "unread_gone.csv")->text.find("nothing there") != std::string::npos);
  CHECK(base::find_finding(recordings, "unread")->text.starts_with("2 of 3 captures could not be read"));
  CHECK(next_step(done.evaluation, stations()).station == "recordings");  // two of three: reading them comes first
  CHECK(base::find_finding(recordings, "left_out_notes.md") != nullptr);
  REQUIRE(done.evaluation.recordings.size() == 1);
  CHECK(done.evaluation.recordings[0].name == "good.csv");
  CHECK(done.evaluation.recordings[0].sha256.size() == 64);
  CHECK(bench.disk.files.at("job/recordings.toml").find("good.csv") != std::string::npos);
  CHECK(bench.disk.files.at("job/recordings/good.csv") == good);
}

TEST_CASE("what the person wrote in recordings.toml is never changed, and its troubles are told") {
  TestJob bench;
  bench.disk.files["job/recordings.toml"] = "format = \"evenbeam.recordings/1\"\nno_such_key = 1\n";
  CHECK(base::test::message_of([&] { bench.run(stations()); }).find("no_such_key") != std::string::npos);
  CHECK(journal::read_entries(bench.request.places.journal).empty());
}

TEST_CASE("results asked for elsewhere leave the job folder untouched") {
  TestJob bench;
  bench.request.places = places_of("job", {}, "out");
  CHECK(bench.request.places.journal == "out/journal.sqlite");
  bench.request.places.journal = bench.folder + "/journal.sqlite";
  std::string good = "time [s],position A [mm],position B [mm]\n";
  for (int i = 0; i < 400; ++i) good += std::to_string(i * 0.001) + ",0.5,0.5\n";
  bench.disk.files["job/recordings/good.csv"] = good;
  const auto before = bench.disk.files;
  bench.run(stations());
  for (const auto& [path, content] : bench.disk.files)
    CHECK_MESSAGE((path.starts_with("out/") || before.count(path) > 0), path);
  for (const auto& [path, content] : before) CHECK(bench.disk.files.at(path) == content);
  CHECK(bench.disk.files.count("out/recordings.toml") == 1);
}

TEST_CASE("a disk that fills up or is read-only is told, and what was there stays whole") {
  TestJob bench;
  bench.run(stations());
  const auto before = bench.disk.files;
  for (std::size_t room = 0; room < 30000; room += 3000) {
    bench.disk.bytes_free = room;
    const std::string message = base::test::message_of([&] { bench.run(stations()); });
    if (message == "no error") break;
    CHECK(message.find("a full disk") != std::string::npos);
    CHECK(message.find("--results DIR") != std::string::npos);
    CHECK(bench.disk.files.at("job/results/result.json") == before.at("job/results/result.json"));
  }
  bench.disk.bytes_free.reset();
  bench.disk.read_only = true;
  CHECK(base::test::message_of([&] { bench.run(stations()); }).find("read-only") != std::string::npos);
}

TEST_CASE("an override is recorded with its reason and stays until something new stops; acceptance waits for it") {
  TestJob bench;
  bench.request.accept = true;
  bench.request.by = "Ada";
  const auto line = stopping_line();
  const Commissioned refused = bench.run(line);
  CHECK(refused.accepted_by.empty());
  REQUIRE_FALSE(refused.remarks.empty());
  CHECK(refused.remarks[0].find("held back by the stop of loops") != std::string::npos);
  CHECK(refused.next.kind == NextStep::Kind::answer_stop);

  bench.request.override_ = OverrideRequest{"loops", "heard it, it is the fan"};
  const Commissioned accepted = bench.run(line);
  CHECK(accepted.accepted_by == "Ada");
  REQUIRE(accepted.evaluation.overrides.size() == 1);
  CHECK(bench.disk.files.at("job/results/report.html").find("heard it, it is the fan") != std::string::npos);

  bench.request.override_.reset();
  bench.request.accept = false;
  const Commissioned later = bench.run(line);
  CHECK(later.evaluation.overrides.size() == 1);
  CHECK(later.accepted_by == "Ada");
  CHECK(later.evaluation.stations[1].result.verdict == base::Verdict::stop);  // overridden, not washed

  bench.request.override_ = OverrideRequest{"recordings", "no reason"};
  CHECK(base::test::message_of([&] { bench.run(line); }).find("a station without a stop") != std::string::npos);
  bench.request.override_ = OverrideRequest{"lops", "misspelt"};
  CHECK(base::test::message_of([&] { bench.run(line); }).find("no station of that name") != std::string::npos);
  bench.request.override_ = OverrideRequest{"loops.hum", "no such stop"};
  CHECK(base::test::message_of([&] { bench.run(line); }).find("no stop of that name") != std::string::npos);
  CHECK(journal::chain_troubles(journal::read_entries(bench.request.places.journal)).empty());
}

TEST_CASE("a machine that a station does not hold for is refused there, and what changes elsewhere is said") {
  TestJob bench;
  bench.disk.files["job/machine.toml"] =
      "span = \"2 m\"\n[guides]\nends = \"pivoted\"\n[topology]\ncommon_shaft = true\n";
  const Evaluation shaft = bench.run(stations()).evaluation;
  for (const char* name : {"limits", "loops", "trips", "rehearse"}) {
    CAPTURE(name);
    const base::StationResult& station = *find_station(shaft, name);
    CHECK(station.verdict == base::Verdict::attention);
    CHECK(station.values.empty());
    CHECK(base::find_finding(station, "topology")->text.find("no push of one side") != std::string::npos);
  }
  CHECK(find_station(shaft, "square")->verdict == base::Verdict::not_done);
  bench.disk.files["job/machine.toml"] = "span = \"2 m\"\n[guides]\nends = \"pivoted\"\n";
  const Evaluation pivoted = bench.run(stations()).evaluation;
  CHECK(find_station(pivoted, "limits")->values.size() > 3);
  CHECK(base::find_finding(*find_station(pivoted, "limits"), "topology")->text.find("joint_turn_limit") !=
        std::string::npos);
  CHECK(base::find_finding(*find_station(pivoted, "prove"), "topology") == nullptr);
}

TEST_CASE("the report alone is the report of the last evaluation, and the journal stays as it is") {
  TestJob bench;
  bench.run(stations());
  const std::string report = bench.disk.files.at("job/results/report.html");
  bench.disk.files.erase("job/results/report.html");
  bench.request.time = "2031-03-03T00:00:00Z";
  report_only(bench.disk, bench.request, stations(), kSilent);
  CHECK(bench.disk.files.at("job/results/report.html") == report);
  CHECK(journal::read_entries(bench.request.places.journal).size() == 1);
}

TEST_CASE("a new job passes its own check and is never written over another") {
  TestJob bench;
  new_job(bench.disk, "fresh");
  bench.request.places.machine = "fresh/machine.toml";
  bench.request.places.recordings = "fresh/recordings";
  CHECK(bench.run(stations()).evaluation.machine.span_m > 0);
  CHECK(base::test::message_of([&] { new_job(bench.disk, "fresh"); }).find("a job already there") !=
        std::string::npos);
}

TEST_CASE("the demo in the program is the demo in the repository") {
  const std::string folder = std::string(EVENBEAM_SOURCE_DIR) + "/demo/job";
  std::size_t files = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) files += entry.is_regular_file();
  const auto embedded = demo_files();
  CHECK(embedded.size() == files);
  for (const base::EmbeddedFile& file : embedded)
    CHECK_MESSAGE(base::read_file(base::join_path(folder, std::string(file.path))) == file.bytes, file.path);
  base::MemoryDisk disk;
  write_demo(disk, "demo");
  write_demo(disk, "demo");
  CHECK(disk.files.size() == files);
  disk.files["demo/machine.toml"] = "span = \"1 m\"";
  CHECK(base::test::message_of([&] { write_demo(disk, "demo"); }).find("not the demo's") != std::string::npos);
}

}  // namespace evenbeam::workflow
