#pragma once
// Whether B's position was sampled later than A's: then x_B as recorded is x_B(t + b_late), and the skew read from it
// has a false part  -b_late * v.
// Estimate: over the samples in motion (speed above 5 % of the highest) the skew is fitted by
//     s = s_0 + s_c sign(v) + c v + c_a a          b_late = -c
// with v, a of the mean position from differences over 10 ms.
// What it cannot see: a true skew in proportion to speed (unequal viscous friction, unequal position gains) looks the
// same. Hence a wide interval, two parts added:
//   2 * rms(residual) / rms(the part of v that the other columns do not hold): unmodelled true skew lies across v as
//     well as beside it, and no more than twice as much (own rule, tried on recordings with and without a shift);
//   |s_c| / top speed: a viscous difference that at top speed does what the Coulomb difference does.
// It counts as proven where the estimate is over twice its half-width and over a tenth of a sample, the motion goes
// both ways, and each way alone agrees within the half-width.
#include <optional>

#include "recording/recording.h"

namespace evenbeam::recording {

struct TimeShift {
  bool estimated = false;  // enough motion to say anything
  bool proven = false;
  double b_late_s = 0, half_width_s = 0;
  double forward_s = 0, backward_s = 0;  // each way alone
  bool both_ways = false;
  double top_speed_m_per_s = 0;
};
TimeShift estimate_time_shift(const Recording& recording);

// Stated: removed from position_b_m by linear interpolation. Not stated: estimated, removed only where proven. A
// finding says what was done, or why it cannot be told.
void settle_time_shift(Recording& recording, const std::optional<double>& stated_s);

}  // namespace evenbeam::recording
