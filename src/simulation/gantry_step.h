#pragma once
// The substep of simulation/gantry.h, written for one coordinate count at compile time. Private to this room.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "simulation/gantry.h"
#include "simulation/pack.h"

namespace evenbeam::simulation {

// Bristle from the middle of the last substep to the middle of this one, `length` apart, at the speed between them.
// Returns its force there, without the viscous part: sigma0 z and sigma1 fade z', the latter carried half a step on.
template <class V>
[[gnu::always_inline]] inline V bristle_force(V& z, V& damped_before, V v, V stiffness, V damping, V inverse_g,
                                              V fade, double length, V per_length, double look_ahead) {
  using namespace pack;
  const V a = stiffness * inverse_g * absolute(v) * length;
  const V half = a * (0.5 + a * (1.0 / 6));
  const V next = (z + length * v * (1.0 + half)) / (1.0 + a * (1.0 + half));
  const V damped = damping * larger(V(1.0 - fade * absolute(v)), V{}) * ((next - z) * per_length);
  z = next;
  const V force = stiffness * next + damped + look_ahead * (damped - damped_before);
  damped_before = damped;
  return force;
}

// Inputs: constant motor forces 0, 1, end forces 2, 3, motor transients 4, 5 (with current lag only).
template <int N>
[[gnu::always_inline]] inline void apply(const double* columns, std::array<double, most_states>& x,
                                         const double* inputs, bool lag) {
  double next[N] = {};
  for (int j = 0; j < N; ++j)
    for (int i = 0; i < N; ++i) next[i] += columns[j * N + i] * x[j];
  for (int j = 0; j < 4; ++j)
    for (int i = 0; i < N; ++i) next[i] += columns[(N + j) * N + i] * inputs[j];
  if (lag)
    for (int j = 4; j < 6; ++j)
      for (int i = 0; i < N; ++i) next[i] += columns[(N + j) * N + i] * inputs[j];
  for (int i = 0; i < N; ++i) x[i] = next[i];
}

// Stop force on the end at x with speed v: a spring and damper that never pulls.
inline double stop_force(const dynamics::SideEffects& e, double x, double v) {
  if (x > e.stop_high_m)
    return std::min(0.0, -e.stop_stiffness_n_per_m * (x - e.stop_high_m) - e.stop_damping_n_s_per_m * v);
  if (x < e.stop_low_m)
    return std::max(0.0, -e.stop_stiffness_n_per_m * (x - e.stop_low_m) - e.stop_damping_n_s_per_m * v);
  return 0;
}

// How the bristles go on from the substep before: see Segment.
struct Stagger {
  double length_s = 0, per_length = 0, look_ahead = 0;
};

// Force at the end of one side over the substep; updates its bristle.
[[gnu::always_inline]] inline double end_force(const GantryModel& m, const SideModel& side, SideState& s, double x,
                                               double v, double h, const Stagger& stagger) {
  double inverse_g = side.inverse_coulomb_per_n;
  if (m.stribeck) {
    const double ratio = v * side.inverse_stribeck_speed_s_per_m;
    inverse_g =
        1 / (side.bristle.coulomb_n + side.bristle.stribeck_n * pack::exponential_of_negative(-ratio * ratio));
  }
  if (m.spots && side.effects.spot_n > 0) {
    const double ratio = (x + 0.5 * h * v - side.effects.spot_at_m) / side.effects.spot_width_m;
    inverse_g /= 1 + inverse_g * side.effects.spot_n * pack::exponential_of_negative(-ratio * ratio);
  }
  s.friction_n = s.broken.friction_factor *
                 bristle_force<double>(s.bristle_m, s.damped_before_n, v, side.bristle.stiffness_n_per_m,
                                       side.bristle.damping_n_s_per_m, inverse_g, side.fade_s_per_m, stagger.length_s,
                                       stagger.per_length, stagger.look_ahead);
  const double x_middle = x + 0.5 * h * v;
  double sum = side.bias_n - s.friction_n - side.effects.cable_n_per_m * x_middle + s.broken.force_added_n;
  if (m.stops) {
    sum += stop_force(side.effects, x_middle, v + stagger.look_ahead * (v - s.speed_before_m_per_s));
    s.speed_before_m_per_s = v;
  }
  return sum;
}

// Ripple and brake at the motor.
inline double motor_force(const GantryModel& m, const SideModel& side, SideState& s, double x, double v, double h,
                          const Stagger& stagger) {
  double sum = 0;
  if (m.cogging && side.effects.cogging_n != 0)
    sum += side.effects.cogging_n * std::sin(2 * std::numbers::pi * (x + 0.5 * h * v) / side.effects.cogging_pitch_m +
                                             side.effects.cogging_phase_rad);
  if (m.brakes) {
    double unused = 0;  // brakes have no micro-damping
    const double drag = side.effects.brake_drag_n, holds = s.brake > 0 ? std::max(side.effects.brake_n, drag) : drag;
    if (s.brake <= 0) {  // opened: what it held beyond its drag is let go
      const double most = drag > 0 ? drag / side.brake_stiffness_n_per_m : 0;
      s.brake_bristle_m = std::clamp(s.brake_bristle_m, -most, most);
    }
    if (holds > 0)
      sum -= bristle_force<double>(s.brake_bristle_m, unused, v, side.brake_stiffness_n_per_m, 0.0, 1 / holds, 0.0,
                                   stagger.length_s, stagger.per_length, 0.0);
  }
  return sum;
}

// What play in the drive takes away from the spring of the exact part, as a force on the motor (opposed on the end).
inline double play_force(const SideModel& side, const GantryState& s, int end, int count, double h) {
  const double half = 0.5 * side.effects.drive_play_m;
  if (!(half > 0)) return 0;
  const double stretch = s.x[side.motor] - s.x[end] + 0.5 * h * (s.x[count + side.motor] - s.x[count + end]);
  return side.drive_stiffness_n_per_m * std::clamp(stretch, -half, half);
}

// Forces of one substep, in the order of the segment's input columns; moves bristles and lag on.
template <int N>
[[gnu::always_inline]] inline void collect(const GantryModel& m, const Segment& segment, const Stagger& stagger,
                                           GantryState& s, double motor_a_n, double motor_b_n, double* inputs) {
  constexpr int D = N / 2;
  const double h = segment.step_s;
  inputs[2] = end_force(m, m.a, s.a, s.x[0], s.x[D], h, stagger);
  inputs[3] = end_force(m, m.b, s.b, s.x[1], s.x[D + 1], h, stagger);
  if (m.wave) {
    const dynamics::Effects& e = m.description.effects;
    const double mean = 0.5 * (s.x[0] + s.x[1]) + 0.25 * h * (s.x[D] + s.x[D + 1]);
    const double skew = e.stress_free_slope * mean +
                        e.stress_free_wave_m * std::sin(2 * std::numbers::pi * mean / e.stress_free_wave_length_m);
    const double off =
        s.x[0] - s.x[1] + 0.5 * h * (s.x[D] - s.x[D + 1]) - skew - m.description.plant.stress_free_skew_m;
    const double given = skew + std::clamp(off, -0.5 * e.yaw_play_m, 0.5 * e.yaw_play_m);  // taken from the spring
    inputs[2] += m.yaw_force_per_skew_n_per_m * given;
    inputs[3] -= m.yaw_force_per_skew_n_per_m * given;
  }
  inputs[0] = motor_a_n, inputs[1] = motor_b_n;
  inputs[4] = s.a.lagged_n - motor_a_n, inputs[5] = s.b.lagged_n - motor_b_n;
  s.a.lagged_n = motor_a_n + segment.lag_left * inputs[4];
  s.b.lagged_n = motor_b_n + segment.lag_left * inputs[5];
  if (m.cogging || m.brakes) {
    inputs[0] += motor_force(m, m.a, s.a, s.x[m.a.motor], s.x[D + m.a.motor], h, stagger);
    inputs[1] += motor_force(m, m.b, s.b, s.x[m.b.motor], s.x[D + m.b.motor], h, stagger);
  }
  if (m.play) {
    const double a = play_force(m.a, s, 0, D, h), b = play_force(m.b, s, 1, D, h);
    inputs[0] += a, inputs[2] -= a;
    inputs[1] += b, inputs[3] -= b;
  }
}

template <int N>
[[gnu::always_inline]] inline void substep(const GantryModel& m, const Segment& segment, const Stagger& stagger,
                                           GantryState& s, double motor_a_n, double motor_b_n) {
  double inputs[6];
  collect<N>(m, segment, stagger, s, motor_a_n, motor_b_n, inputs);
  apply<N>(segment.columns.data(), s.x, inputs, m.lag);
}

}  // namespace evenbeam::simulation
