#include "diagnosis/told_elsewhere.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>

namespace evenbeam::diagnosis {
namespace {

using base::Verdict;

struct Elsewhere {
  std::string_view station, id;  // the id, or its beginning
  bool only_stop;                // its `attention` says only that something was not measured
  const char* trouble;           // what it makes at the machine, to follow "If"
  const char* settle;            // where the station names no next step
};

// clang-format off
constexpr std::array kElsewhere{
    Elsewhere{"marks", "search_can_fail", false,
              "searches end askew, on the wrong side of a switch, or fail from a start on a pressed one",
              "Search from the start named, slowly and with a hand on the stop, both switches' states on record."},
    Elsewhere{"trips", "skew_trip", false,
              "legal moves trip, or a trip comes too late to spare the guides",
              "Quieten the ordinary moves or react faster, then compute the window anew."},
    Elsewhere{"trips", "faults_not_held", false,
              "a fault takes the bridge past what its guides take although the skew trip acts",
              "Decide for each fault: the change named, or a mechanical stop."},
    Elsewhere{"trips", "latency_budget", false,
              "the bridge crashes when one drive faults",
              "Release a fault on purpose at a tenth of the speed and measure the time to the other's zero."},
    Elsewhere{"trips", "captured_", false,
              "the bridge crashes when one drive faults",
              "Inspect guides and mountings before the bridge moves again."},
    Elsewhere{"square", "out_of_square", false,
              "parts come out of square (an offset entered with the wrong sign doubles it)",
              "Measure both diagonals before and after the offset: they must come together, not part."},
    Elsewhere{"square", "set_right", true,
              "the sides fight all the time since an offset was entered",
              "Set the bridge square with one end loose, not by the drives."},
    Elsewhere{"loops", "peak_sensitivity", true,
              "it swings at one end of the carriage's travel and is calm at the other",
              "Record a response with the carriage at both ends of its travel."},
    Elsewhere{"loops", "no_settings", true,
              "it swings at one end of the carriage's travel and is calm at the other",
              "Record a response with the carriage at both ends of its travel."},
};
// clang-format on

bool met(const Elsewhere& e, const std::string& station, const base::Finding& f) {
  if (e.station != station || !f.id.starts_with(e.id)) return false;
  return f.verdict == Verdict::stop || (f.verdict == Verdict::attention && !e.only_stop);
}

}  // namespace

std::vector<base::Finding> told_elsewhere(const std::vector<base::StationResult>& done) {
  std::vector<base::Finding> out;
  for (const base::StationResult& station : done)
    for (const base::Finding& finding : station.findings) {
      const auto row = std::find_if(kElsewhere.begin(), kElsewhere.end(),
                                    [&](const Elsewhere& e) { return met(e, station.name, finding); });
      if (row == kElsewhere.end()) continue;
      base::Finding f = finding;
      f.id = "elsewhere_" + station.name + "_" + finding.id;
      f.verdict = Verdict::not_done;  // no capture shows it; a stop is that station's own
      f.text = fmt::format("If {}, look here first; station {} found: {}", row->trouble, station.name, finding.text);
      if (f.next.empty()) f.next = row->settle;
      out.push_back(std::move(f));
    }
  return out;
}

}  // namespace evenbeam::diagnosis
