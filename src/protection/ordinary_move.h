#pragma once
// The ordinary move that a fault breaks: run once a place under the loops and kept as pieces, so that the state at
// any instant is one series away. Straightenings, a ramp of the skew's reference at rest, are ordinary too.
#include <limits>
#include <vector>

#include "protection/event_model.h"
#include "trajectory/jerk_limited.h"

namespace evenbeam::protection {

inline constexpr double never_s = std::numeric_limits<double>::infinity();
inline constexpr double after_move_s = 0.2;  // watched after the move's end
inline constexpr int most_steps = 20000;     // of one run

// The ordinary move under the loops, as pieces of series.
struct OrdinaryPiece {
  double from_s = 0;
  State state{};
  Mode mode;
};
struct OrdinaryMove {
  EventModel model;
  Place place;
  trajectory::Move move;
  std::vector<OrdinaryPiece> pieces;
  std::vector<double> borders_s;  // where the reference changes its jerk, start and end included
  double peak_skew_m = 0;         // largest skew error, reference less reading
  double peak_following_m = 0;    // of either side
  bool finished = false;          // false: the loops chatter or run away, nothing here is to be trusted
};
// At rest in the standing skew, loops closed.
State standing_state(const EventModel& model);
OrdinaryMove ordinary_move(const EventModel& model, const Place& place, const trajectory::Move& move);
OrdinaryPiece state_at(const OrdinaryMove& ordinary, double time_s);

// Largest skew error while the skew's reference goes from the standing skew by `way_m` at `rate_m_per_s`.
double straightening_peak_m(const EventModel& model, double way_m, double rate_m_per_s);

// Longest step worth taking: a tenth of the yaw's period.
double longest_step_s(const EventModel& model);
// Jerk and direction of the reference from `time_s` on; at a border that of the phase beginning there.
void follow_reference(const trajectory::Move& move, double time_s, Mode& mode, State& z);
double next_border(const std::vector<double>& borders_s, double time_s);

}  // namespace evenbeam::protection
