// Every way to build the machine, through every station, with the demo's captures: supported with what changes, or
// refused with one sentence and no number; docs/topologies.md.
#include "machine/topology.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <map>

#include "base/files.h"
#include "machine/machine_file.h"
#include "workflow/demo_files.h"
#include "workflow/evaluate.h"
#include "workflow/gates.h"

namespace evenbeam::workflow {
namespace {

// Beside the demo's machine.toml: what makes it this build.
struct Change {
  std::string from, to;
};
const std::map<std::string, Change>& changes() {
  static const std::string bolted = "ends = \"bolted\"";
  static const std::map<std::string, Change> list{
      {"bolted ends", {bolted, bolted}},
      {"pivoted ends", {bolted, "ends = \"pivoted\"\njoint_turn_limit = \"2 mrad\""}},
      {"flexure ends", {bolted, "ends = \"flexure\"\njoint_turn_limit = \"2 mrad\""}},
      {"two motors a side", {"drive = \"rack\"", "drive = \"rack\"\nmotors = 2"}},
      {"one motor with a common shaft", {"[limits]", "[topology]\ncommon_shaft = true\n\n[limits]"}},
      {"a scale on one side only", {"[limits]", "[topology]\nfeedback_on_both_sides = false\n\n[limits]"}},
      {"feedback at the motor on one side, at the bridge on the other",
       {"[guides]", "[side_b]\nfeedback_on = \"motor\"\n\n[guides]"}},
      {"a third rail", {"[limits]", "[topology]\nthird_rail = true\n\n[limits]"}}};
  return list;
}

// Pushes, a multisine a side, one search and one move, or no captures: builds of which nothing is refused and whose
// loops are those of the demo take as long as the demo itself.
base::MemoryDisk job_built(const Change& change, bool captures) {
  base::MemoryDisk disk;
  for (const base::EmbeddedFile& file : demo_files()) {
    const std::string path(file.path);
    bool kept = path.find("recordings/") == std::string::npos && path != "recordings.toml";
    for (const char* name : {"01-", "02-", "03-", "04-search-1", "06-", "recordings.toml"})
      kept = kept || (captures && path.find(name) != std::string::npos);
    if (kept) disk.files["job/" + path] = std::string(file.bytes);
  }
  std::string& machine = disk.files.at("job/machine.toml");
  const std::size_t at = machine.find(change.from);
  REQUIRE(at != std::string::npos);
  machine.replace(at, change.from.size(), change.to);
  return disk;
}

bool says(const base::StationResult& station, const std::string& words) {
  return std::any_of(station.findings.begin(), station.findings.end(), [&](const base::Finding& f) {
    return f.id == "topology" && f.text.find(words) != std::string::npos;
  });
}

}  // namespace

TEST_CASE(
    "every build through every station: refused in one sentence without a number, or answered with what changes") {
  for (const machine::Build& build : machine::all_builds()) {
    CAPTURE(build.name);
    const auto change = changes().find(build.name);
    REQUIRE(change != changes().end());
    const bool captures = !build.refused.empty() || build.name == "pivoted ends";
    const base::MemoryDisk disk = job_built(change->second, captures);
    const Evaluation e =
        evaluate(load_job(disk, places_of("job"), [](const std::string&) {}), stations(), [](const std::string&) {});
    const auto built = machine::builds_of(e.machine);
    REQUIRE(std::any_of(built.begin(), built.end(), [&](const machine::Build& b) { return b.name == build.name; }));
    int refused = 0;
    for (const Station& one : stations()) {
      CAPTURE(one.name);
      const base::StationResult* station = find_station(e, one.name);
      REQUIRE(station);
      const bool no = std::find(build.refused.begin(), build.refused.end(), one.name) != build.refused.end();
      if (no) {
        ++refused;
        CHECK(station->verdict == base::Verdict::attention);
        CHECK(station->values.empty());
        REQUIRE(station->findings.size() == 1);
        CHECK(says(*station, build.sentence));
        CHECK(station->findings[0].next == build.instead);
        continue;
      }
      for (const machine::StationWords& words : build.changes)
        if (words.station == one.name) CHECK(says(*station, words.words));
      if (captures && (one.name == "survey" || one.name == "fit" || one.name == "nudge"))
        CHECK_FALSE(station->values.empty());
    }
    CHECK(refused == static_cast<int>(build.refused.size()));
    if (refused > 0) CHECK(overall_verdict(e) != base::Verdict::pass);  // such a machine is never all well
  }
}

}  // namespace evenbeam::workflow
