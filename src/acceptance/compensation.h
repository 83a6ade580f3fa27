#pragma once
// Compensation from a positioning table: what to add to the commanded position at each target, for both directions
// apart, c = -mean deviation; straight between targets. What remains is judged on runs that the correction has not
// seen: each run is corrected by the mean of the others and the parameters of ISO 230-2 are taken of the result.
#include <vector>

#include "acceptance/iso230_2.h"

namespace evenbeam::acceptance {

struct CompensationPoint {
  double target_m = 0, rising_m = 0, falling_m = 0;  // to be added to the commanded position; NaN where not measured
};
std::vector<CompensationPoint> compensation(const Positioning& positioning);

// Each run less the mean of the other runs at its target and direction. Needs three runs in a direction to mean much.
std::vector<TargetRuns> corrected_by_the_others(const std::vector<TargetRuns>& runs);

}  // namespace evenbeam::acceptance
