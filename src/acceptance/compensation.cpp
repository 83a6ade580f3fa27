#include "acceptance/compensation.h"

namespace evenbeam::acceptance {

namespace {

std::vector<double> less_mean_of_others(const std::vector<double>& x) {
  double sum = 0;
  for (const double v : x) sum += v;
  std::vector<double> out;
  for (const double v : x) out.push_back(v - (sum - v) / double(x.size() - 1));
  return out;
}

}  // namespace

std::vector<CompensationPoint> compensation(const Positioning& positioning) {
  std::vector<CompensationPoint> out;
  for (const TargetStatistics& t : positioning.targets) out.push_back({t.target_m, -t.mean_up_m, -t.mean_down_m});
  return out;
}

std::vector<TargetRuns> corrected_by_the_others(const std::vector<TargetRuns>& runs) {
  std::vector<TargetRuns> out;
  for (const TargetRuns& r : runs)
    out.push_back({r.target_m, less_mean_of_others(r.up_m), less_mean_of_others(r.down_m)});
  return out;
}

}  // namespace evenbeam::acceptance
