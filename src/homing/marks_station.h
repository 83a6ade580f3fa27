#pragma once
// Station `marks`: where the reference marks are against each other, which offsets put the bridge stress-free or
// square, and how far a search must run so that both are always seen. Keys: docs/formats.md, "values of marks".
#include "base/figure.h"
#include "homing/marks.h"
#include "homing/search_range.h"

namespace evenbeam::homing {

struct MarksInput {
  std::optional<double> allowable_skew_m;  // by limits
  std::optional<math::Estimate> square_m;  // b - a where the bridge is measured square, by square
};

base::StationOutcome marks_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, const identification::MotionFit& motion,
                                   const MarksInput& input);

}  // namespace evenbeam::homing
