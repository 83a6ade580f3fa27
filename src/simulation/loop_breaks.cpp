#include "simulation/loop_breaks.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::simulation {

bool switch_by_time(const LoopBreaks& b, Switches& s, double time_s, double period_s) {
  const auto now = [&](const std::optional<double>& at) { return at && *at >= time_s && *at < time_s + period_s; };
  if (now(b.off_s)) s.a_off = s.b_off = true;
  s.a_off = s.a_off || time_s >= s.a_off_at_s, s.b_off = s.b_off || time_s >= s.b_off_at_s;
  if (!now(b.on_s)) return false;
  s = {};
  return true;
}

bool trip(const LoopBreaks& b, Switches& s, const Errors& e, double time_s) {
  const auto beyond = [](double error, double level) { return level > 0 && std::abs(error) > level; };
  const bool both = beyond(e.skew_m(), b.skew_trip_m);
  const bool a = !s.a_off && (both || beyond(e.a_m, b.following_trip_a_m));
  const bool other = !s.b_off && (both || beyond(e.b_m, b.following_trip_b_m));
  s.a_off = s.a_off || a, s.b_off = s.b_off || other;
  if (a) s.b_off_at_s = std::min(s.b_off_at_s, time_s + b.partner_late_s);
  if (other) s.a_off_at_s = std::min(s.a_off_at_s, time_s + b.partner_late_s);
  return a || other;
}

Commands with_brakes(const LoopBreaks& b, const Switches& s, Commands c, double time_s) {
  const bool shut =
      (b.brakes_open_s && time_s < *b.brakes_open_s) || (b.brakes_close_s && time_s >= *b.brakes_close_s);
  c.brake_a = s.a_off || shut, c.brake_b = s.b_off || shut;
  return c;
}

}  // namespace evenbeam::simulation
