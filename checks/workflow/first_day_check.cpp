// The demo's first day played to its end, then a drive swap on the same machine. The day's three faults are the
// demo's own invention; what must hold them back is read from the evaluations. The swapped drive's captures are the
// demo's with B's output 1/0.95 as large: what a drive that gives 5 % less force a commanded newton needs for the
// same motion.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "base/files.h"
#include "base/near_test.h"
#include "journal/compare.h"
#include "workflow/after_repair.h"
#include "workflow/demo_files.h"
#include "workflow/first_day.h"
#include "workflow/gates.h"

using namespace evenbeam;
using namespace evenbeam::workflow;

namespace {

const Progress silent = [](const std::string&) {};
constexpr double weaker = 0.95;

// The day as played, once for all cases; the job stays in memory, its journal on disk.
struct Day {
  base::MemoryDisk disk;
  CommissionRequest request;
  std::vector<DayPlayed> played;
  Day() {
    const std::string folder = std::string(EVENBEAM_BINARY_DIR) + "/first_day_folder";
    std::filesystem::remove_all(folder);
    base::make_folder(folder);
    request = {.places = places_of("day"), .program = "evenbeam check", .time = "2031-01-01T00:00:00Z"};
    request.places.journal = folder + "/journal.sqlite";
    played = play_first_day(
        disk, request, [](const DayPlayed&) {}, silent);
  }
};
Day& day() {
  static Day one;
  return one;
}

std::string gate(const Evaluation& evaluation, std::size_t which) {
  const auto& rows =
      std::get<std::vector<base::Row>>(base::find_value(*find_station(evaluation, "ready"), "gates")->value);
  return std::get<std::string>(rows.at(which)[1].second);
}

// Header cells and numbers of the demo's comma files; the column's numbers times a factor.
std::string scaled(std::string_view csv, std::string_view column, double factor) {
  std::string out;
  std::size_t wanted = std::string::npos;
  for (std::size_t at = 0; at < csv.size();) {
    const std::size_t end = std::min(csv.find('\n', at), csv.size());
    std::string line(csv.substr(at, end - at));
    at = end + 1;
    if (const std::size_t place = line.find(column); place != std::string::npos) {
      wanted = std::size_t(std::count(line.begin(), line.begin() + long(place), ','));
    } else if (wanted != std::string::npos) {
      std::size_t cell = 0;
      for (std::size_t i = 0; i < wanted; ++i) cell = line.find(',', cell) + 1;
      const std::size_t stop = std::min(line.find(',', cell), line.size());
      line = line.substr(0, cell) + fmt::format("{:.4f}", factor * std::stod(line.substr(cell, stop - cell))) +
             line.substr(stop);
    }
    out += line + "\n";
  }
  return out;
}

std::string demo_text(const std::string& path) {
  for (const base::EmbeddedFile& file : demo_files())
    if (file.path == path) return std::string(file.bytes);
  return "";
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

// New captures under new names, their entries; the old ones are left to be taken out.
void make_captures_again(base::MemoryDisk& disk) {
  std::string& plans = disk.files.at("day/recordings.toml");
  const std::string demo_plans = demo_text("recordings.toml");
  for (const auto& [file, column] : {std::pair{"01-nudges.csv", "out_b_pct"},
                                     {"02-multisine-a.csv", "B.Out"},
                                     {"03-multisine-b.csv", "B.Out"},
                                     {"04-search-1.csv", "out_b_pct"},
                                     {"04-search-2.csv", "out_b_pct"},
                                     {"04-search-3.csv", "out_b_pct"},
                                     {"04-search-4.csv", "out_b_pct"},
                                     {"04-search-5.csv", "out_b_pct"},
                                     {"07-testmove-carriage-a-empty.csv", "out_b_pct"},
                                     {"08-testmove-carriage-b-loaded.csv", "out_b_pct"}}) {
    const std::string fresh = std::string("new-") + file;
    disk.files["day/recordings/" + fresh] = scaled(demo_text(std::string("recordings/") + file), column, 1 / weaker);
    const std::string heading = fmt::format("[files.\"{}\"]", file);
    const std::size_t from = demo_plans.find(heading);
    const std::size_t to = std::min(demo_plans.find("\n\n", from), demo_plans.size());
    plans += "\n" + replaced(demo_plans.substr(from, to - from), file, fresh) + "\n";
    // Searched cold, then warm: how the marks part with temperature is then told.
    if (const std::string name = file; name.starts_with("04-search-"))
      plans += fmt::format("temperature = \"{} degC\"\n", name < "04-search-3" ? 20 : 28);
  }
}

void take_out(base::MemoryDisk& disk, const std::vector<std::string>& files) {
  std::string& plans = disk.files.at("day/recordings.toml");
  for (const std::string& file : files) {
    const std::string heading = fmt::format("[files.\"{}\"]\n", file);
    plans = replaced(plans, heading, heading + "skip = \"before drive B was changed\"\n");
  }
}

AfterRepair state_since(Day& d, long since) {
  return look_after_repair(d.disk, d.request.places, "drive-b", since, silent);
}

}  // namespace

TEST_CASE("first day: each of the three faults is held back at its gate, and nothing is once it is mended") {
  const auto& played = day().played;
  REQUIRE(played.size() == 6);
  int wrong = 0;
  for (std::size_t i = 0; i < played.size(); ++i) {
    const DayStep& step = played[i].step;
    CAPTURE(step.at);
    if (step.wrong.empty()) continue;
    ++wrong;
    CHECK(played[i].caught);
    const base::StationResult* later = find_station(played[i + 1].done.evaluation, step.caught_station);
    const base::Finding* finding = base::find_finding(*later, step.caught_stop);
    CHECK((finding == nullptr || finding->verdict != base::Verdict::stop));
  }
  CHECK(wrong == 3);
  CHECK(gate(played[0].done.evaluation, 0) == "open");
  CHECK(gate(played[0].done.evaluation, 1) == "shut");  // rails
  CHECK(gate(played[1].done.evaluation, 1) == "shut");  // parameters
  CHECK(gate(played[2].done.evaluation, 1) == "open");
  CHECK(gate(played[2].done.evaluation, 2) == "shut");
  CHECK(held_by("survey", played[2].done.evaluation, stations()).size() == 2);  // ready's first move, and nudge
  CHECK(gate(played[3].done.evaluation, 2) == "open");
  CHECK(held_by("survey", played[3].done.evaluation, stations()).empty());
}

TEST_CASE("first day: at its end every station has answered, none with a stop, and it is handed over") {
  const Evaluation& end = day().played.back().done.evaluation;
  for (const base::StationOutcome& outcome : end.stations) {
    CAPTURE(outcome.result.name);
    CHECK(outcome.result.verdict != base::Verdict::stop);
    CHECK(outcome.result.verdict != base::Verdict::not_done);
  }
  CHECK(find_station(end, "ready")->verdict == base::Verdict::pass);
  CHECK(base::find_finding(*find_station(end, "handover"), "open_ends")->text ==
        "The record is whole: no station is open.");
  CHECK(journal::chain_troubles(journal::read_entries(day().request.places.journal)).empty());
}

TEST_CASE("a drive swap: the record is not valid until all is made again, and the comparison names what changed") {
  Day& d = day();
  const long before = d.played.back().done.entry;
  AfterRepair state =
      after_repair("drive-b", d.played.back().done.evaluation, load_job(d.disk, d.request.places, silent).ready,
                   result_of(d.played.back().done.evaluation));
  CHECK_FALSE(state.valid);
  CHECK(state.outdated.size() == 12);  // every capture leans on B's force
  for (const Redone& one : state.captures) CHECK_FALSE(one.done);

  take_out(d.disk, state.outdated);
  make_captures_again(d.disk);
  std::string& sheet = d.disk.files.at("day/ready.toml");
  for (const char* line : {"current_rise_b", "count_b", "end_switches_b", "emergency_stop", "enable_together",
                           "takes_actual_position", "angle_spread_b", "cross_trip"}) {
    const std::string heading = fmt::format("[check.{}]\n", line);
    sheet = replaced(sheet, heading, heading + "after = \"drive-b\"\n");
  }
  d.disk.files["day/drives/b.txt"] = replaced(d.disk.files.at("day/drives/b.txt"), "40715", "51200");
  const Commissioned after = commission(d.disk, d.request, stations(), silent);
  state = after_repair("drive-b", after.evaluation, load_job(d.disk, d.request.places, silent).ready,
                       result_of(d.played.back().done.evaluation));
  for (const Redone& one : state.captures) {
    CAPTURE(one.capture);
    CAPTURE(one.words);
    CHECK(one.done);
  }
  CHECK(state.outdated.empty());
  CHECK(state.unanswered.empty());
  CHECK(state.valid);
  REQUIRE(base::find_finding(*find_station(after.evaluation, "marks"), "search_again"));
  CHECK(number_of(after.evaluation, "marks", "search_again_after_k"));
  CHECK_THROWS(state_since(d, 99));

  // A known force at B was met with the old drive; one at A still counts.
  for (const char* side : {"A", "B"})
    d.disk.files.at("day/machine.toml") += fmt::format(
        "\n[[force_test]]\nside = \"{}\"\nforce = \"400 N\"\nuncertainty = \"1 %\"\n"
        "instrument = \"cell at {}\"\noutput = \"350 N\"\noutput_back = \"450 N\"\n",
        side, side);
  const Evaluation tested = look_at(d.disk, d.request.places, stations(), silent);
  const std::vector<std::string> old =
      after_repair("drive-b", tested, load_job(d.disk, d.request.places, silent).ready, result_of(tested)).outdated;
  const auto lists = [&](const std::string& word) {
    return std::any_of(old.begin(), old.end(), [&](const auto& one) { return one.find(word) != std::string::npos; });
  };
  CHECK(lists("cell at B"));
  CHECK_FALSE(lists("cell at A"));

  const auto entries = journal::read_entries(d.request.places.journal);
  const auto entry = [&](long number) {
    return journal::evaluation_of(*std::find_if(entries.begin(), entries.end(),
                                                [&](const journal::Entry& one) { return one.number == number; }));
  };
  const journal::Comparison changed = journal::compare(entry(before), entry(after.entry));
  const auto names = [&](const std::vector<journal::Change>& changes, const std::string& place) {
    return std::any_of(changes.begin(), changes.end(), [&](const auto& one) { return one.place == place; });
  };
  CHECK(names(changed.causes, "drives/b.txt"));
  CHECK(names(changed.causes, "new-01-nudges.csv"));
  CHECK(names(changed.effects, "nudge.gain_ratio_b_to_a"));
  CHECK_FALSE(names(changed.effects, "fit.coulomb_a_n"));
  CHECK_FALSE(names(changed.effects, "marks.marks_a_minus_b_free_m"));
  const double ratio = *number_of(after.evaluation, "nudge", "gain_ratio_b_to_a") /
                       *number_of(d.played.back().done.evaluation, "nudge", "gain_ratio_b_to_a");
  CHECK(ratio == base::test::near(weaker).epsilon(0.005));
}
