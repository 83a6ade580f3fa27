#pragma once
// Station `nudge`: do both sides agree in sign, scale, strength and friction? Signs and wiring come from open-loop
// pushes (pushes.h, wiring.h); strength and friction from the motion fit, which takes mass distribution and each
// side's friction out of the comparison. Keys: docs/formats.md.
#include <optional>
#include <vector>

#include "base/figure.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "math/estimate.h"
#include "nudge/pushes.h"
#include "recording/recording.h"

namespace evenbeam::nudge {

struct NudgeInput {
  const identification::MotionFit& fit;       // may be not done
  std::optional<math::Estimate> force_scale;  // real over nameplate newton, mean of both sides; absent: nameplate
};

base::StationOutcome nudge_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, const NudgeInput& input);

// What force a side breaks loose at, real newtons. Sliding friction of the fit is the estimate (breaking loose takes
// as much or somewhat more); the pushes bound it: the smallest that moved the side by more than pre-sliding, the
// largest that did not.
struct Breakaway {
  std::optional<double> value_n;
  std::optional<double> lower_n, upper_n;
  std::optional<double> smallest_moved_n, largest_still_n;  // real newtons
  bool contradicts = false;  // the fit's friction lies above a push that moved the side
};
Breakaway breakaway(const std::vector<Push>& pushes, PushSide side, const NudgeInput& input);

}  // namespace evenbeam::nudge
