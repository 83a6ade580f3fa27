#pragma once
// What ordinary moves show beside their peak skew: speeds and commanded forces of the ends, and the smallest skew
// level that grows with the reference's speed and acceleration and lies on or above every look at them:
//   |skew error| <= at_rest + per_speed |v_ref| + per_acceleration |a_ref|
// least in the mean over the looks; `at_rest` is no less than what the standing bridge shows (moves' tails and
// straightenings). A linear programme in three unknowns, solved by two nested searches of a convex function
// (derived here). Looks are gathered into cells of speed and acceleration, each at its lower corner, so that the
// level is never too small.
#include <vector>

#include "protection/ordinary_move.h"

namespace evenbeam::protection {

struct GrowingLevel {
  double at_rest_m = 0, per_speed_s = 0, per_acceleration_s2 = 0;
};
double level_m(const GrowingLevel& level, double speed_m_per_s, double acceleration_m_per_s2);

// Largest sizes over moves.
struct Demand {
  double reference_m_per_s = 0, speed_m_per_s = 0;  // of the reference, and of either end
  double command_a_n = 0, command_b_n = 0;          // newtons before the clip
};
Demand demand_of(const std::vector<const OrdinaryMove*>& moves);

struct OrdinaryEnvelope {
  Demand demand;
  double peak_skew_m = 0;  // largest look
  GrowingLevel skew;
};
// `straightening_m`: largest skew error of a straightening at rest.
OrdinaryEnvelope envelope_of(const std::vector<const OrdinaryMove*>& moves, double straightening_m);

}  // namespace evenbeam::protection
