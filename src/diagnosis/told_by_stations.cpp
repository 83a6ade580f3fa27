#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <string_view>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

// Findings of other stations that name a cause; what they say is not said anew, only gathered.
struct Told {
  std::string_view station, id;  // the id, or its beginning
};
constexpr std::array<Told, 13> kTold{{{"nudge", "crossed"},
                                      {"nudge", "sign_"},
                                      {"nudge", "count_direction"},
                                      {"nudge", "strength"},
                                      {"marks", "run_"},
                                      {"marks", "marks_drift"},
                                      {"marks", "latch_delay"},
                                      {"marks", "marks_difference"},
                                      {"ready", "skew_released"},
                                      {"ready", "enable_order"},
                                      {"ready", "disable_order"},
                                      {"marks", "mark_near_switch_edge"},
                                      {"marks", "skew_in_search"}}};

bool names_a_cause(const std::string& station, const base::Finding& finding) {
  const bool said = finding.verdict == base::Verdict::attention || finding.verdict == base::Verdict::stop;
  return said && std::any_of(kTold.begin(), kTold.end(), [&](const Told& told) {
           return told.station == station && finding.id.starts_with(told.id);
         });
}

}  // namespace

std::vector<Cause> told_by_stations(const std::vector<base::StationResult>& done) {
  std::vector<Cause> out;
  for (const base::StationResult& station : done)
    for (const base::Finding& finding : station.findings) {
      if (!names_a_cause(station.name, finding)) continue;
      base::Finding f = finding;
      f.id = station.name + "_" + finding.id;
      f.verdict = base::Verdict::attention;  // a stop is that station's own, and is set aside there
      f.text = fmt::format("Station {}: {}", station.name, finding.text);
      out.push_back({std::move(f), 0});
    }
  return out;
}

}  // namespace evenbeam::diagnosis
