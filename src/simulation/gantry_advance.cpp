#include <cmath>
#include <numbers>

#include "base/check.h"
#include "simulation/gantry.h"
#include "simulation/gantry_drive.h"
#include "simulation/gantry_step.h"

namespace evenbeam::simulation {

namespace {

// 64 random bits; after Vigna's splitmix64 (public domain; from memory).
std::uint64_t next_bits(std::uint64_t& state) {
  std::uint64_t z = state += 0x9e3779b97f4a7c15ull;
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ull;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebull;
  return z ^ (z >> 31);
}
// Standard normal pair by Box and Muller.
struct Normals {
  double first, second;
};
Normals next_normals(std::uint64_t& state) {
  const double scale = 1.0 / 9007199254740992.0;  // 2^-53
  const double u = (static_cast<double>(next_bits(state) >> 11) + 0.5) * scale;
  const double angle = 2 * std::numbers::pi * static_cast<double>(next_bits(state) >> 11) * scale;
  const double radius = std::sqrt(-2 * std::log(u));
  return {radius * std::cos(angle), radius * std::sin(angle)};
}

template <int N>
void run_segment(const GantryModel& m, const Segment& segment, GantryState& s, double motor_a_n, double motor_b_n) {
  if (segment.steps == 0) return;
  substep<N>(m, segment, {segment.first_length_s, 1 / segment.first_length_s, segment.first_look_ahead}, s, motor_a_n,
             motor_b_n);
  if (segment.steps == 1) return;
  const Stagger even{segment.step_s, 1 / segment.step_s, 0.5};
  for (int i = 1; i < segment.steps; ++i) substep<N>(m, segment, even, s, motor_a_n, motor_b_n);
}

template <int N>
void run_segments(const GantryModel& m, GantryState& s) {
  const int old = m.whole_delay + 1, now = m.whole_delay;
  const double before_a = real_force(m.a, s.a.broken, s.a.waiting_n[old]);
  const double before_b = real_force(m.b, s.b.broken, s.b.waiting_n[old]);
  run_segment<N>(m, m.before, s, before_a, before_b);
  const double after_a = real_force(m.a, s.a.broken, s.a.waiting_n[now]);
  const double after_b = real_force(m.b, s.b.broken, s.b.waiting_n[now]);
  run_segment<N>(m, m.after, s, after_a, after_b);
}

double read_side(const GantryModel& m, const SideModel& side, SideState& s, const GantryState& all, double noise) {
  if (s.broken.frozen_feedback) return s.last_read_m;
  const dynamics::SideEffects& e = side.effects;
  const double late = e.sampled_late_s + e.sampled_late_growth * all.time_s;
  const double position = all.x[side.feedback] + late * all.x[m.coordinates + side.feedback];
  double read = position * (1 + e.scale_error) * s.broken.feedback_factor + s.broken.feedback_added_m;
  if (e.pitch_error_m != 0)
    read +=
        e.pitch_error_m * std::sin(2 * std::numbers::pi * position / e.pitch_error_pitch_m + e.pitch_error_phase_rad);
  read += e.noise_m * s.broken.noise_factor * noise;
  if (e.count_m > 0) read = e.count_m * pack::nearest(read / e.count_m);
  s.last_read_m = read;
  return read;
}

}  // namespace

void advance(const GantryModel& m, GantryState& s, const Commands& c) {
  push_command(s.a, c.a_n, m.whole_delay);
  push_command(s.b, c.b_n, m.whole_delay);
  if (m.brakes) move_brake(m.a, s.a, c.brake_a, m.period_s), move_brake(m.b, s.b, c.brake_b, m.period_s);
  switch (m.coordinates) {
    case 2:
      run_segments<4>(m, s);
      break;
    case 3:
      run_segments<6>(m, s);
      break;
    case 4:
      run_segments<8>(m, s);
      break;
    case 5:
      run_segments<10>(m, s);
      break;
    case 6:
      run_segments<12>(m, s);
      break;
    default:
      base::check(false, "2 to 6 coordinates", {double(m.coordinates)});
  }
  s.time_s += m.period_s;
}

Read read_feedback(const GantryModel& m, GantryState& s) {
  Normals noise{0, 0};
  if (m.a.effects.noise_m > 0 || m.b.effects.noise_m > 0) noise = next_normals(s.noise);
  return {read_side(m, m.a, s.a, s, noise.first), read_side(m, m.b, s.b, s, noise.second)};
}

}  // namespace evenbeam::simulation
