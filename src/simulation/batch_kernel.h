#pragma once
// The closed loop of several machines at once, one machine a lane. Every line repeats the scalar code's operations in
// the scalar code's order (gantry_step.h, gantry_advance.cpp, servo/): a lane's bits are the machine's own.
// Included by files compiled for different processors: everything with code is in an unnamed namespace, so that the
// linker cannot merge an instance for one processor with that for another. Private to this room.
#include <algorithm>
#include <array>
#include <cstddef>

#include "servo/loop_law.h"
#include "simulation/gantry.h"
#include "simulation/gantry_step.h"
#include "simulation/pack.h"
#include "simulation/reference_track.h"

namespace evenbeam::simulation {

struct LaneMachine {
  const GantryModel* model = nullptr;
  const GantryState* start = nullptr;
  const servo::LoopLaw* law = nullptr;
  double start_skew_m = 0;
};
struct LaneResult {
  double peak_skew_error_m = 0, peak_true_skew_error_m = 0, end_a_m = 0, end_b_m = 0;
  long clipped = 0;
};
inline constexpr int most_lanes = 8;
using LaneMachines = std::array<LaneMachine, most_lanes>;
using LaneResults = std::array<LaneResult, most_lanes>;
// Machines of one shape under one complete reference: the first four, or all eight.
using PackRun = void (*)(const LaneMachines&, const ReferenceTrack&, LaneResults&);
PackRun pack_run_generic(int coordinates);  // four
PackRun pack_run_avx2(int coordinates);     // four, for processors that have AVX2
PackRun pack_run_avx512(int coordinates);   // eight, for processors that have AVX-512 F

namespace {
using namespace pack;

template <class V, class Get>
[[gnu::always_inline]] inline V gather(const LaneMachines& lanes, Get get) {
  V out{};
  for (int i = 0; i < Traits<V>::lanes; ++i) lane(out, i) = get(lanes[i]);
  return out;
}

template <class V>
struct Coordinate {
  V kp, kv, integral, difference, filter;
  V q, v, i;
  int filters = 0;
  V b0[servo::most_filters], b1[servo::most_filters], b2[servo::most_filters], a1[servo::most_filters],
      a2[servo::most_filters], s1[servo::most_filters], s2[servo::most_filters];
};

template <class V, class Get>
void load(Coordinate<V>& c, const LaneMachines& lanes, Get get) {
  const auto field = [&](auto pick) { return gather<V>(lanes, [&](const LaneMachine& m) { return pick(get(m)); }); };
  c.kp = field([](const auto& l) { return l.position_gain_per_s; });
  c.kv = field([](const auto& l) { return l.velocity_gain; });
  c.integral = field([](const auto& l) { return l.integral_factor; });
  c.difference = field([](const auto& l) { return l.difference_factor; });
  c.filter = field([](const auto& l) { return l.filter_factor; });
  c.q = c.v = c.i = V{};
  c.filters = get(lanes[0]).filter_count;
  for (int k = 0; k < c.filters; ++k) {
    c.b0[k] = field([k](const auto& l) { return l.filters[k].b0; });
    c.b1[k] = field([k](const auto& l) { return l.filters[k].b1; });
    c.b2[k] = field([k](const auto& l) { return l.filters[k].b2; });
    c.a1[k] = field([k](const auto& l) { return l.filters[k].a1; });
    c.a2[k] = field([k](const auto& l) { return l.filters[k].a2; });
    c.s1[k] = c.s2[k] = V{};
  }
}

template <class V, class Mask>
[[gnu::always_inline]] inline V step(Coordinate<V>& c, double r, double rate, V q, Mask up, Mask down) {
  const V difference = (q - c.q) * c.difference;
  c.q = q;
  c.v += c.filter * (difference - c.v);
  const V w = c.kp * (r - q) + rate - c.v;
  const Mask held = (up & (w > 0.0)) | (down & (w < 0.0));
  c.i = held ? c.i : c.i + w * c.integral;
  V u = c.kv * (w + c.i);
  for (int k = 0; k < c.filters; ++k) {
    const V y = c.b0[k] * u + c.s1[k];
    c.s1[k] = c.b1[k] * u - c.a1[k] * y + c.s2[k];
    c.s2[k] = c.b2[k] * u - c.a2[k] * y;
    u = y;
  }
  return u;
}

template <class V>
struct Side {
  // Constant.
  V stiffness, damping, fade, inverse_g, coulomb, stribeck, inverse_speed, bias, cable, low, high, stop_k, stop_c;
  V scale, drive_peak, count, feedback_scale, late, zero, coulomb_ff, viscous_ff, offset, peak, share;
  int motor = 0, feedback = 0;
  // State.
  V bristle, damped_before, speed_before, lagged, clip;
  V waiting[most_delay + 2];
};

template <class V>
void load(Side<V>& s, const LaneMachines& lanes, bool b) {
  const auto side = [b](const LaneMachine& m) -> const SideModel& { return b ? m.model->b : m.model->a; };
  const auto state = [b](const LaneMachine& m) -> const SideState& { return b ? m.start->b : m.start->a; };
  const auto field = [&](auto pick) { return gather<V>(lanes, [&](const LaneMachine& m) { return pick(side(m)); }); };
  const auto law = [&](auto pick) { return gather<V>(lanes, [&](const LaneMachine& m) { return pick(*m.law); }); };
  s.stiffness = field([](const SideModel& m) { return m.bristle.stiffness_n_per_m; });
  s.damping = field([](const SideModel& m) { return m.bristle.damping_n_s_per_m; });
  s.fade = field([](const SideModel& m) { return m.fade_s_per_m; });
  s.inverse_g = field([](const SideModel& m) { return m.inverse_coulomb_per_n; });
  s.coulomb = field([](const SideModel& m) { return m.bristle.coulomb_n; });
  s.stribeck = field([](const SideModel& m) { return m.bristle.stribeck_n; });
  s.inverse_speed = field([](const SideModel& m) { return m.inverse_stribeck_speed_s_per_m; });
  s.bias = field([](const SideModel& m) { return m.bias_n; });
  s.cable = field([](const SideModel& m) { return m.effects.cable_n_per_m; });
  s.low = field([](const SideModel& m) { return m.effects.stop_low_m; });
  s.high = field([](const SideModel& m) { return m.effects.stop_high_m; });
  s.stop_k = field([](const SideModel& m) { return m.effects.stop_stiffness_n_per_m; });
  s.stop_c = field([](const SideModel& m) { return m.effects.stop_damping_n_s_per_m; });
  s.scale = field([](const SideModel& m) { return m.force_scale; });
  s.drive_peak =
      field([](const SideModel& m) { return m.effects.peak_force_n > 0 ? m.effects.peak_force_n : 1e300; });
  s.count = field([](const SideModel& m) { return m.effects.count_m; });
  s.feedback_scale = field([](const SideModel& m) { return 1 + m.effects.scale_error; });
  s.late = field([](const SideModel& m) { return m.effects.sampled_late_s; });
  s.motor = side(lanes[0]).motor, s.feedback = side(lanes[0]).feedback;
  s.zero = gather<V>(lanes, [&](const LaneMachine& m) { return state(m).last_read_m; });
  s.bristle = gather<V>(lanes, [&](const LaneMachine& m) { return state(m).bristle_m; });
  s.damped_before = s.speed_before = s.lagged = s.clip = V{};
  for (V& w : s.waiting) w = V{};
  s.coulomb_ff = law([b](const auto& l) { return b ? l.coulomb_b_n : l.coulomb_a_n; });
  s.viscous_ff = law([b](const auto& l) { return b ? l.viscous_b_n_s_per_m : l.viscous_a_n_s_per_m; });
  s.offset = law([b](const auto& l) { return b ? l.offset_b_n : l.offset_a_n; });
  s.peak = law([b](const auto& l) { return b ? l.peak_b_n : l.peak_a_n; });
  s.share = law([b](const auto& l) { return b ? 1 - l.share : l.share; });
}

template <class V, int N>
struct Columns {
  V value[N * (N + 6)];
  V lag_left;
};
template <class V, int N>
void load(Columns<V, N>& c, const LaneMachines& lanes, Segment GantryModel::*which) {
  for (int k = 0; k < N * (N + 6); ++k)
    c.value[k] = gather<V>(lanes, [&](const LaneMachine& m) { return (m.model->*which).columns[k]; });
  c.lag_left = gather<V>(lanes, [&](const LaneMachine& m) { return (m.model->*which).lag_left; });
}

template <class V>
[[gnu::always_inline]] inline V end_force(Side<V>& s, V x, V v, double h, const Stagger& g, bool stribeck,
                                          bool stops) {
  V inverse_g = s.inverse_g;
  if (stribeck) {
    const V ratio = v * s.inverse_speed;
    inverse_g = 1.0 / (s.coulomb + s.stribeck * exponential_of_negative<V>(-ratio * ratio));
  }
  const V friction = bristle_force<V>(s.bristle, s.damped_before, v, s.stiffness, s.damping, inverse_g, s.fade,
                                      g.length_s, all<V>(g.per_length), g.look_ahead);
  const V middle = x + 0.5 * h * v;
  V sum = s.bias - friction - s.cable * middle;
  if (stops) {
    const V speed = v + g.look_ahead * (v - s.speed_before);
    const V above = smaller(V{}, V(-s.stop_k * (middle - s.high) - s.stop_c * speed));
    const V below = larger(V{}, V(-s.stop_k * (middle - s.low) - s.stop_c * speed));
    sum += middle > s.high ? above : (middle < s.low ? below : V{});
    s.speed_before = v;
  }
  return sum;
}

template <class V, int N>
struct Machines {
  Columns<V, N> before, after;
  Side<V> a, b;
  Coordinate<V> mean, skew;
  V x[N];
  V mass_ff, skew_ff, per_ramp, skew_zero;
};

template <class V, int N>
[[gnu::always_inline]] inline void segment(const GantryModel& shape, const Segment& seg, const Columns<V, N>& c,
                                           Machines<V, N>& m, V motor_a, V motor_b) {
  constexpr int D = N / 2;
  const double h = seg.step_s;
  const Stagger first{seg.first_length_s, 1 / seg.first_length_s, seg.first_look_ahead}, even{h, 1 / h, 0.5};
  for (int i = 0; i < seg.steps; ++i) {
    const Stagger& stagger = i == 0 ? first : even;
    V in[6];
    in[2] = end_force(m.a, m.x[0], m.x[D], h, stagger, shape.stribeck, shape.stops);
    in[3] = end_force(m.b, m.x[1], m.x[D + 1], h, stagger, shape.stribeck, shape.stops);
    in[0] = motor_a, in[1] = motor_b;
    in[4] = m.a.lagged - motor_a, in[5] = m.b.lagged - motor_b;
    m.a.lagged = motor_a + c.lag_left * in[4];
    m.b.lagged = motor_b + c.lag_left * in[5];
    V next[N] = {};
    const int inputs = shape.lag ? 6 : 4;
    for (int k = 0; k < N; ++k)
      for (int r = 0; r < N; ++r) next[r] += c.value[k * N + r] * m.x[k];
    for (int k = 0; k < inputs; ++k)
      for (int r = 0; r < N; ++r) next[r] += c.value[(N + k) * N + r] * in[k];
    for (int r = 0; r < N; ++r) m.x[r] = next[r];
  }
}

template <class V>
[[gnu::always_inline]] inline V clamp(V x, V size) {
  return x < -size ? -size : (size < x ? size : x);
}

template <class V, int N>
[[gnu::always_inline]] inline V feedback(const Side<V>& s, const Machines<V, N>& m) {
  const V position = m.x[s.feedback] + s.late * m.x[N / 2 + s.feedback];
  const V read = position * s.feedback_scale;
  const V counted = s.count * nearest<V>(read / s.count);
  return (s.count > 0.0 ? counted : read) - s.zero;
}

template <class V>
[[gnu::always_inline]] inline V side_force(Side<V>& s, V feedback_n, V ramp, double speed) {
  const V wanted = feedback_n + s.coulomb_ff * ramp + s.viscous_ff * speed + s.offset;
  s.clip = wanted > s.peak ? all<V>(1.0) : (wanted < -s.peak ? all<V>(-1.0) : V{});
  return clamp(wanted, s.peak);
}

template <class V>
[[gnu::always_inline]] inline void push_command(Side<V>& s, V command, int whole_delay) {
  for (int i = whole_delay + 1; i > 0; --i) s.waiting[i] = s.waiting[i - 1];
  s.waiting[0] = command;
}

template <class V, int N>
void load(Machines<V, N>& m, const LaneMachines& lanes) {
  load(m.before, lanes, &GantryModel::before);
  load(m.after, lanes, &GantryModel::after);
  load(m.a, lanes, false), load(m.b, lanes, true);
  load(m.mean, lanes, [](const LaneMachine& l) -> const servo::CoordinateLaw& { return l.law->mean; });
  load(m.skew, lanes, [](const LaneMachine& l) -> const servo::CoordinateLaw& { return l.law->skew; });
  for (int k = 0; k < N; ++k) m.x[k] = gather<V>(lanes, [k](const LaneMachine& l) { return l.start->x[k]; });
  m.mass_ff = gather<V>(lanes, [](const LaneMachine& l) { return l.law->mass_ff_kg; });
  m.skew_ff = gather<V>(lanes, [](const LaneMachine& l) { return l.law->skew_ff_kg; });
  m.per_ramp = gather<V>(lanes, [](const LaneMachine& l) { return l.law->per_ramp_s_per_m; });
  m.skew_zero = gather<V>(lanes, [](const LaneMachine& l) { return l.start_skew_m; });
}

template <class V, int N>
void run_pack(const LaneMachines& lanes, const ReferenceTrack& t, LaneResults& out) {
  constexpr int D = N / 2;
  static_assert(D >= 2);
  Machines<V, N> m;
  load(m, lanes);
  const GantryModel& shape = *lanes[0].model;
  V peak{}, true_peak{}, clipped{};
  const double mean_zero = t.mean_m.empty() ? 0 : t.mean_m[0];
  for (std::size_t k = 0; k < t.mean_m.size(); ++k) {
    const V read_a = feedback(m.a, m), read_b = feedback(m.b, m);
    const double r = t.mean_m[k] - mean_zero, v = t.mean_m_per_s[k], skew_r = t.skew_m[k];
    const V mean = 0.5 * (read_a + read_b), skew = read_a - read_b;
    if (k == 0) m.mean.q = mean, m.skew.q = skew;
    const auto a_up = m.a.clip > 0.0, a_down = m.a.clip<0.0, b_up = m.b.clip> 0.0, b_down = m.b.clip < 0.0;
    const V u_mean = step(m.mean, r, v, mean, a_up | b_up, a_down | b_down);
    const V u_skew = step(m.skew, skew_r, t.skew_m_per_s[k], skew, a_up | b_down, a_down | b_up);
    const V mean_n = m.mass_ff * t.mean_m_per_s2[k], skew_n = m.skew_ff * t.skew_m_per_s2[k];
    const V ramp = clamp(V(v * m.per_ramp), all<V>(1.0));
    const V force_a = side_force(m.a, V(m.a.share * u_mean + u_skew + m.a.share * mean_n + skew_n), ramp, v);
    const V force_b = side_force(m.b, V(m.b.share * u_mean - u_skew + m.b.share * mean_n - skew_n), ramp, v);
    clipped += ((m.a.clip != 0.0) | (m.b.clip != 0.0)) ? all<V>(1.0) : V{};
    peak = larger(peak, absolute<V>(skew - skew_r));
    true_peak = larger(true_peak, absolute<V>(m.x[0] - m.x[1] - m.skew_zero - skew_r));
    push_command(m.a, force_a, shape.whole_delay), push_command(m.b, force_b, shape.whole_delay);
    const int old = shape.whole_delay + 1, now = shape.whole_delay;
    if (shape.before.steps > 0)
      segment(shape, shape.before, m.before, m, V(clamp(m.a.waiting[old], m.a.drive_peak) * m.a.scale),
              V(clamp(m.b.waiting[old], m.b.drive_peak) * m.b.scale));
    segment(shape, shape.after, m.after, m, V(clamp(m.a.waiting[now], m.a.drive_peak) * m.a.scale),
            V(clamp(m.b.waiting[now], m.b.drive_peak) * m.b.scale));
  }
  for (int i = 0; i < Traits<V>::lanes; ++i)
    out[i] = {lane(peak, i), lane(true_peak, i), lane(m.x[0], i), lane(m.x[1], i),
              static_cast<long>(lane(clipped, i))};
}

template <class V>
PackRun choose(int coordinates) {
  switch (coordinates) {
    case 2:
      return &run_pack<V, 4>;
    case 3:
      return &run_pack<V, 6>;
    case 4:
      return &run_pack<V, 8>;
    case 5:
      return &run_pack<V, 10>;
    case 6:
      return &run_pack<V, 12>;
    default:
      return nullptr;
  }
}

}  // namespace
}  // namespace evenbeam::simulation
