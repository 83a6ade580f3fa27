#pragma once
// Longer travels made of jerk-limited pieces: jogs at constant speed, and search moves whose end is not known before.
#include <vector>

#include "trajectory/jerk_limited.h"

namespace evenbeam::trajectory {

// Up to `speed`, constant for `constant_s`, to rest. The pieces join in place, speed and acceleration.
std::vector<Move> jog(const MotionState& from, double speed_m_per_s, double constant_s, const MoveLimits& limits);

// Way from `speed` to rest at the limits; v^2/2A + vA/2J where A is reached, else v sqrt(v/J). Same for starting.
double stopping_distance_m(double speed_m_per_s, const MoveLimits& limits);

// A search runs at its speed until both marks are seen, then stops.
struct SearchTravel {
  double run_up_m = 0;   // before the first mark that may be seen at constant speed
  double overrun_m = 0;  // after the last mark, with the reaction time in it
  double total_m = 0;    // most travel from the start: run up, marks' span, overrun
};
SearchTravel search_travel(double speed_m_per_s, double span_of_marks_m, double reaction_s, const MoveLimits& limits);

}  // namespace evenbeam::trajectory
