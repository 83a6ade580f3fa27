#pragma once
// What is linear in one mode of the event model (event_model.h), its constants gathered once a step. Private to this
// room. With z the state and one = 1:
//   wanted = mean_gain (w_mean + mean integral) + skew_gain (w_skew + skew integral) + ff_a a_ref + ff_v v_ref + c
//   v' = inverse of W (push less what slides); rows and columns of a side that stands are zero
//   hold = the friction with which a standing side goes on standing, from what pushes it and the other's acceleration
// With one = 0 the constants fall away: what higher coefficients of the power series obey.
#include "protection/event_model.h"

namespace evenbeam::protection {

struct SideLaw {
  double mean_gain = 0, skew_gain = 0, ff_a = 0, ff_v = 0, constant_n = 0;  // of `wanted`
  double pass_per_s = 0, held_n_per_s = 0;  // force' = pass wanted + held - force/lag; a clipped side only holds
  double viscous_n_s_per_m = 0, sliding_n = 0, push_n = 0;
};
struct ModeLaw {
  SideLaw a, b;
  double read_a = 1, read_b = 1;
  double mean_gain_per_s = 0, skew_gain_per_s = 0, skew_rate_m_per_s = 0;  // position gains, the skew's reference
  double mean_filter_per_s = 0, skew_filter_per_s = 0;
  double mean_integral_per_s = 0, skew_integral_per_s = 0;  // 0 while a side is clipped
  double stiffness = 0, damping = 0, per_lag_s = 0, jerk_m_per_s3 = 0;
  double inverse_aa = 0, inverse_ab = 0, inverse_bb = 0, w_ab_kg = 0;
};
ModeLaw law_of(const EventModel& model, const Mode& mode);

// What is watched for events, beside the state itself.
enum WatchedIndex { wanted_a, wanted_b, hold_a, hold_b };
inline constexpr int watched_size = 4;
using Watched = std::array<double, watched_size>;

// z' into `rate`, the watched into `watched`.
void rates(const ModeLaw& law, const State& z, double one, State& rate, Watched& watched);

// The series of one mode over one step.
inline constexpr int series_order = 14;
struct Series {
  std::array<State, series_order + 1> terms;
  std::array<Watched, series_order> watched;
  double length_s = 0;  // the step over which it is good
  // No further than this does each quantity stray from its first value within the step: sum of |term| t^k, k > 0.
  std::array<double, skew_integral> strays;  // of the first six places of the state
  Watched watched_strays;
};
Series series(const EventModel& model, const Mode& mode, const State& z, double longest_s);
State at(const Series& series, double time_s);

}  // namespace evenbeam::protection
