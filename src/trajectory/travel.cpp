#include "trajectory/travel.h"

#include <cmath>

#include "base/check.h"

namespace evenbeam::trajectory {

std::vector<Move> jog(const MotionState& from, double speed_m_per_s, double constant_s, const MoveLimits& limits) {
  base::check(constant_s >= 0, "constant part >= 0", {constant_s});
  const Move start = plan_speed_change(from, speed_m_per_s, limits);
  Move constant;
  const MotionState& s = start.end;
  constant.count = 1;
  constant.phases[0] = {constant_s, 0, s};
  constant.duration_s = constant_s;
  constant.end = {s.position_m + constant_s * s.velocity_m_per_s, s.velocity_m_per_s, 0};
  constant.peak_speed_m_per_s = std::abs(s.velocity_m_per_s);
  return {start, constant, plan_speed_change(constant.end, 0, limits)};
}

double stopping_distance_m(double speed_m_per_s, const MoveLimits& limits) {
  const Move stop = plan_speed_change({0, std::abs(speed_m_per_s), 0}, 0, limits);
  return stop.end.position_m;
}

SearchTravel search_travel(double speed_m_per_s, double span_of_marks_m, double reaction_s,
                           const MoveLimits& limits) {
  base::check(span_of_marks_m >= 0 && reaction_s >= 0, "span and reaction >= 0", {span_of_marks_m, reaction_s});
  SearchTravel out;
  out.run_up_m = stopping_distance_m(speed_m_per_s, limits);  // starting takes the same way
  out.overrun_m = out.run_up_m + std::abs(speed_m_per_s) * reaction_s;
  out.total_m = out.run_up_m + span_of_marks_m + out.overrun_m;
  return out;
}

}  // namespace evenbeam::trajectory
