#pragma once
// The bridge for faults: mean and yaw on rigid drives, Coulomb friction on each side, the loop law in continuous
// time. In the velocities of the ends, v = (v_A, v_B), skew sigma counted from the stress-free attitude
// (docs/faults.md):
//   W v' = (F_A - r_A - k sigma - c sigma',  F_B - r_B + k sigma + c sigma'),  k = K_th/L^2, c = C_th/L^2
//   W = [M/4 - S/L + J/L^2,  M/4 - J/L^2;  ..,  M/4 + S/L + J/L^2]            (from docs/equations.md, eq. 4 and 5)
//   r = sign(v) (Coulomb + brake) + viscous v while a side slides; what holds it, up to that, while it stands
// Between events (a side stops or breaks away, an output clips or comes back, a trip is met, a time passes) all is
// linear and the state a power series in time: steps are exact to the last digits, events are its roots.
// Assumed: one lag of the force stands for delay, half the hold and current lag; a velocity filter under 400 Hz is
// first-order of its own, a quicker one joins the lag; drives, bending and the loops' biquads left out (they act well
// above the yaw frequency); friction feed-forward without its ramp.
#include <array>
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"

namespace evenbeam::protection {

struct SideModel {
  double coulomb_n = 0, viscous_n_s_per_m = 0;  // real newtons
  double force_scale = 1;                       // real over commanded
  double peak_n = 0;                            // commanded; clip of the loop
  double coulomb_ff_n = 0, viscous_ff_n_s_per_m = 0, offset_n = 0;
};
struct CoordinateModel {
  double position_gain_per_s = 0, velocity_gain_n_s_per_m = 0, integral_per_s = 0;  // 1/Ti, 0 = none
  double filter_per_s = 0;                                                          // 2 pi f, 0 = none
};
struct EventModel {
  double span_m = 0;
  double w_aa_kg = 0, w_ab_kg = 0, w_bb_kg = 0;
  double stiffness_n_per_m = 0, damping_n_s_per_m = 0;  // k, c
  SideModel a, b;
  CoordinateModel mean, skew;
  double share = 0.5, mass_ff_kg = 0;
  double lag_s = 1e-3;
  double carriage_kg = 0, carriage_y_m = 0, carriage_ahead_m = 0;  // with payload; part of the masses above
  double standing_skew_m = 0;                                      // the loops hold it: reference, from stress-free
};
struct Place {
  double carriage_y_m = 0, payload_kg = 0;
};
EventModel event_model(const dynamics::Plant& plant, const Place& place, const machine::Settings& settings);
double yaw_frequency_hz(const EventModel& model);  // sqrt(K/(J - S^2/M))/2 pi
// The carriage elsewhere. A mass m at y adds m (1/2 - y/L)^2 to W_AA, m (1/2 + y/L)^2 to W_BB, m (1/4 - y^2/L^2) to
// W_AB.
void move_carriage(EventModel& model, double y_m);

// Places in the state. Errors are reference minus feedback as read; reference rate and acceleration are carried
// along.
enum StateIndex {
  v_a,
  v_b,
  skew,
  mean_error,
  skew_error,
  mean_integral,
  skew_integral,
  f_a,
  f_b,
  v_ref,
  a_ref,
  way,
  mean_read,
  skew_read
};  // the last two: speeds behind the velocity filters
inline constexpr int state_size = 14;
using State = std::array<double, state_size>;

enum class Output {
  loop,    // what the law asks, clipped
  none,    // no force
  held,    // `held_n`, commanded newtons
  follow,  // the skew loop alone: this side follows the other
};
struct SideMode {
  Output output = Output::loop;
  double held_n = 0;
  int slides = 0;              // +1, -1, 0 = stands
  int clip = 0;                // of `loop` and `follow`
  double feedback_gain = 1;    // 0 frozen, -1 reversed
  double extra_coulomb_n = 0;  // brake, jam
  double extra_viscous_n_s_per_m = 0;
};
struct Mode {
  SideMode a, b;
  double jerk_m_per_s3 = 0;      // of the reference
  int direction = 0;             // of the reference: sign of the friction feed-forward
  double skew_rate_m_per_s = 0;  // of the skew's reference
  double yaw_push_n = 0;         // on A, taken from B: what a thrown carriage does to the bridge, -m h y_c''/L
};

// Motion and guide spring, J.
double energy_j(const EventModel& model, const State& z);

}  // namespace evenbeam::protection
