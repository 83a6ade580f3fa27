#pragma once
// Between a command and the motor: what is broken, the drive's clip, brakes with their times, the delay line.
// Private to this room.
#include <algorithm>

#include "simulation/gantry.h"

namespace evenbeam::simulation {

// Real force at the motor that a command asks for, through the drive's own clip and what is broken.
inline double real_force(const SideModel& side, const Broken& broken, double command_n) {
  double n = command_n * broken.output_factor + broken.output_added_n;
  if (side.effects.peak_force_n > 0) n = std::clamp(n, -side.effects.peak_force_n, side.effects.peak_force_n);
  return n * side.force_scale;
}

inline void move_brake(const SideModel& side, SideState& s, bool wanted, double dt_s) {
  if (s.broken.brake_stuck_open) wanted = false;
  if (s.broken.brake_stuck_closed) {
    s.brake = 1, s.brake_wanted = true;
    return;
  }
  if (wanted != s.brake_wanted) {
    s.brake_wanted = wanted;
    s.brake_left_s =
        wanted ? side.effects.brake_close_s + s.broken.brake_extra_close_s : side.effects.brake_release_s;
  }
  s.brake_left_s -= dt_s;
  if (s.brake_left_s <= 0) s.brake = s.brake_wanted ? 1 : 0;
}

inline void push_command(SideState& s, double command_n, int whole_delay) {
  for (int i = whole_delay + 1; i > 0; --i) s.waiting_n[i] = s.waiting_n[i - 1];
  s.waiting_n[0] = command_n;
}

}  // namespace evenbeam::simulation
