#pragma once
// Time-optimal jerk-limited move along one coordinate between two states of motion.
//   |v| <= speed, |a| <= acceleration, |jerk| in {0, J};  from (x0, v0, a0) to (x1, v1, a1)
// Method (derived, docs/moves.md): a fastest move changes speed to some v_p reached with a = 0, cruises only if |v_p|
// is the limit, and changes speed to the end state. The distance as a function of v_p is monotone or of one bend on
// known pieces; all its crossings with the wanted distance are found and the shortest move is taken. Assumes equal
// limits in both directions. States that cannot be kept inside the limits are refused.
#include <array>

namespace evenbeam::trajectory {

struct MoveLimits {
  double speed_m_per_s = 0;          // > 0
  double acceleration_m_per_s2 = 0;  // > 0
  double jerk_m_per_s3 = 0;          // > 0
};

struct MotionState {
  double position_m = 0, velocity_m_per_s = 0, acceleration_m_per_s2 = 0;
};

// Constant jerk from `start` for `duration_s`.
struct Phase {
  double duration_s = 0, jerk_m_per_s3 = 0;
  MotionState start;
};

struct Move {
  static constexpr int most_phases = 7;
  std::array<Phase, most_phases> phases{};
  int count = 0;
  double duration_s = 0;
  double peak_speed_m_per_s = 0, peak_acceleration_m_per_s2 = 0;  // sizes reached
  MotionState end;
};

// Throws base::InputError where limits or states break a rule.
Move plan_move(const MotionState& from, const MotionState& to, const MoveLimits& limits);
// Rest to rest over `distance_m` from `start_m`.
Move plan_move(double start_m, double distance_m, const MoveLimits& limits);
// Fastest change of speed, wherever that ends: stops (speed 0), start of constant speed.
Move plan_speed_change(const MotionState& from, double speed_m_per_s, const MoveLimits& limits);

// Before 0 the start at its speed, after the end the end state at its speed (acceleration 0 outside).
MotionState at(const Move& move, double time_s);

}  // namespace evenbeam::trajectory
