#include "simulation/gantry.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "base/input_error.h"
#include "dynamics/motion.h"
#include "math/state_space.h"
#include "simulation/places.h"

namespace evenbeam::simulation {

using Eigen::MatrixXd;

Places places(const dynamics::Plant& plant) {
  const dynamics::Motion m = dynamics::motion(plant);
  const int n = m.at.count;
  // Order of the new coordinates: x_A, x_B, motor A, motor B, bending, carriage. q = back * new.
  MatrixXd forward = MatrixXd::Zero(n, n);
  forward.row(0) = m.end_a, forward.row(1) = m.end_b;
  int next = 2;
  Places p;
  p.count = n;
  const auto keep = [&](int old) {
    if (old < 0) return -1;
    forward(next, old) = 1;
    return next++;
  };
  p.motor_a = keep(m.at.motor_a), p.motor_b = keep(m.at.motor_b);
  p.bending = keep(m.at.bending), p.carriage = keep(m.at.carriage);
  if (p.motor_a < 0) p.motor_a = 0;
  if (p.motor_b < 0) p.motor_b = 1;
  const MatrixXd back = forward.inverse();
  p.mass = back.transpose() * m.mass * back;
  p.damping = back.transpose() * m.damping * back;
  p.stiffness = back.transpose() * m.stiffness * back;
  return p;
}

namespace {

// x' = A x + columns of forces; the lag's transient is a force that fades with its own state.
void fill(Segment& segment, const Places& p, double lag_s) {
  const int n = p.count, states = 2 * n;
  const Eigen::LDLT<MatrixXd> solver(p.mass);
  MatrixXd forces = MatrixXd::Zero(n, 4);
  forces(p.motor_a, 0) = forces(p.motor_b, 1) = forces(0, 2) = forces(1, 3) = 1;
  const bool lag = lag_s > 0;
  MatrixXd a = MatrixXd::Zero(states + 2, states + 2), b = MatrixXd::Zero(states + 2, 4);
  a.block(0, n, n, n).setIdentity();
  a.block(n, 0, n, n) = -solver.solve(p.stiffness);
  a.block(n, n, n, n) = -solver.solve(p.damping);
  b.middleRows(n, n) = solver.solve(forces);
  if (lag) {
    a.block(n, states, n, 2) = b.block(n, 0, n, 2);
    a(states, states) = a(states + 1, states + 1) = -1 / lag_s;
  }
  const math::Held held = math::hold(a, b, segment.step_s);
  segment.columns.fill(0);
  for (int j = 0; j < states; ++j)
    for (int i = 0; i < states; ++i) segment.columns[j * states + i] = held.f(i, j);
  for (int j = 0; j < 4; ++j)
    for (int i = 0; i < states; ++i) segment.columns[(states + j) * states + i] = held.g(i, j);
  for (int j = 0; j < 2; ++j)
    for (int i = 0; i < states; ++i) segment.columns[(states + 4 + j) * states + i] = lag ? held.f(i, states + j) : 0;
  segment.lag_left = lag ? std::exp(-segment.step_s / lag_s) : 0;
}

SideModel side_model(const dynamics::PlantSide& side, const dynamics::SideEffects& effects, double mass_kg) {
  SideModel out;
  out.bristle = dynamics::bristle(side, effects, mass_kg);
  out.effects = effects;
  out.force_scale = side.force_scale;
  out.inverse_coulomb_per_n = side.coulomb_n > 0 ? 1 / side.coulomb_n : 1;
  if (side.coulomb_n > 0) out.fade_s_per_m = out.bristle.damping_n_s_per_m / (4 * side.coulomb_n);
  if (effects.stribeck_n > 0) out.inverse_stribeck_speed_s_per_m = 1 / effects.stribeck_speed_m_per_s;
  if (!(side.coulomb_n > 0)) out.bristle.coulomb_n = 1, out.bristle.stribeck_n = 0;  // g = 1, bristle stiffness 0
  out.brake_stiffness_n_per_m = std::max(effects.brake_n, effects.brake_drag_n) / effects.presliding_m;
  out.drive_stiffness_n_per_m = side.drive_stiffness_n_per_m;
  out.bias_n = -effects.cable_n;
  return out;
}

// The fastest thing that is not in the exact part: bristles, stops and brakes against the mass they act on.
double longest_step_s(const GantryModel& m, const Places& p) {
  double rate = 0, loss = 0;
  const MatrixXd compliance = Eigen::LDLT<MatrixXd>(p.mass).solve(MatrixXd::Identity(p.count, p.count));
  for (int side = 0; side < 2; ++side) {
    const SideModel& s = side ? m.b : m.a;
    const double end = compliance(side, side), motor = compliance(s.motor, s.motor);
    const double stop = m.stops ? s.effects.stop_stiffness_n_per_m : 0;
    rate = std::max({rate, std::sqrt((s.bristle.stiffness_n_per_m + stop + s.effects.cable_n_per_m) * end),
                     m.brakes ? std::sqrt(s.brake_stiffness_n_per_m * motor) : 0.0,
                     s.effects.drive_play_m > 0 ? std::sqrt(s.drive_stiffness_n_per_m * motor) : 0.0});
    loss = std::max(loss, (s.bristle.damping_n_s_per_m + (m.stops ? s.effects.stop_damping_n_s_per_m : 0)) * end);
  }
  // A tenth of a radian and of a time constant a step: errors of second order below 1e-3 of these forces' effect.
  double longest = m.description.longest_step_s;
  if (rate > 0) longest = std::min(longest, 0.1 / rate);
  if (loss > 0) longest = std::min(longest, 0.1 / loss);
  return longest;
}

void split_period(GantryModel& m, double longest_s) {
  double whole = std::floor(m.description.plant.delay_s / m.period_s);
  double part = m.description.plant.delay_s - whole * m.period_s;
  if (part > m.period_s * (1 - 1e-6)) whole += 1, part = 0;
  if (part < m.period_s * 1e-6) part = 0;
  m.whole_delay = static_cast<int>(whole);
  const auto steps = [&](double length) { return static_cast<int>(std::ceil(length / longest_s * (1 - 1e-9))); };
  if (part > 0) m.before.steps = steps(part), m.before.step_s = part / m.before.steps;
  m.after.steps = steps(m.period_s - part), m.after.step_s = (m.period_s - part) / m.after.steps;
  const auto join = [](Segment& segment, double step_before_s) {
    segment.first_length_s = 0.5 * (segment.step_s + step_before_s);
    segment.first_look_ahead = 0.5 * segment.step_s / step_before_s;
  };
  join(m.after, m.before.steps > 0 ? m.before.step_s : m.after.step_s);
  if (m.before.steps > 0) join(m.before, m.after.step_s);
}

}  // namespace

GantryModel prepare(const Gantry& gantry, double period_s) {
  std::vector<base::Trouble> troubles;
  const auto refuse = [&](const std::string& text) {
    troubles.push_back({"gantry", 0, 0, text, "", "Correct the value"});
  };
  for (const auto& text : dynamics::plant_troubles(gantry.plant)) refuse(text);
  for (const auto& text : dynamics::effects_troubles(gantry.effects)) refuse(text);
  if (!(period_s > 0) || !std::isfinite(period_s)) refuse("period_s must be > 0");
  const auto needs = [&](const dynamics::PlantSide& side, const dynamics::SideEffects& of, const char* name) {
    if (of.spot_n > 0 && !(side.coulomb_n > 0)) refuse(fmt::format("{}: a friction spot needs coulomb_n > 0", name));
    if (of.drive_play_m > 0 && !(side.drive_stiffness_n_per_m > 0))
      refuse(fmt::format("{}: play in the drive needs an elastic drive", name));
  };
  needs(gantry.plant.a, gantry.effects.a, "a"), needs(gantry.plant.b, gantry.effects.b, "b");
  if (!(gantry.longest_step_s > 0)) refuse("longest_step_s must be > 0");
  if (period_s > 0 && gantry.plant.delay_s >= most_delay * period_s) refuse("delay_s must be below 16 servo periods");
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
  GantryModel m;
  m.description = gantry;
  m.period_s = period_s;
  const Places p = places(gantry.plant);
  const dynamics::Effects& e = gantry.effects;
  m.coordinates = p.count;
  const double mass = dynamics::total_mass_kg(gantry.plant), span = gantry.plant.span_m;
  m.a = side_model(gantry.plant.a, e.a, mass), m.b = side_model(gantry.plant.b, e.b, mass);
  m.a.motor = p.motor_a, m.b.motor = p.motor_b;
  m.a.feedback = gantry.plant.feedback_on_motor ? p.motor_a : 0;
  m.b.feedback = gantry.plant.feedback_on_motor ? p.motor_b : 1;
  m.lag = gantry.plant.current_lag_s > 0;
  m.stribeck = e.a.stribeck_n > 0 || e.b.stribeck_n > 0;
  m.stops = e.a.stop_stiffness_n_per_m > 0 || e.b.stop_stiffness_n_per_m > 0;
  m.cogging = e.a.cogging_n != 0 || e.b.cogging_n != 0;
  m.brakes = m.a.brake_stiffness_n_per_m > 0 || m.b.brake_stiffness_n_per_m > 0;
  m.spots = e.a.spot_n > 0 || e.b.spot_n > 0;
  m.play = e.a.drive_play_m > 0 || e.b.drive_play_m > 0;
  m.wave = e.stress_free_slope != 0 || e.stress_free_wave_m != 0 || e.yaw_play_m > 0;
  m.yaw_force_per_skew_n_per_m = gantry.plant.yaw_stiffness_n_m_per_rad / (span * span);
  const double opposed = m.yaw_force_per_skew_n_per_m * gantry.plant.stress_free_skew_m;
  m.a.bias_n += opposed, m.b.bias_n -= opposed;
  split_period(m, longest_step_s(m, p));
  fill(m.after, p, gantry.plant.current_lag_s);
  if (m.before.steps > 0) fill(m.before, p, gantry.plant.current_lag_s);
  return m;
}

GantryState standing(const GantryModel& m, double mean_m, double skew_m, std::uint64_t seed, bool held) {
  GantryState s;
  s.noise = seed;
  s.x[0] = mean_m + skew_m / 2, s.x[1] = mean_m - skew_m / 2;
  if (m.a.motor > 1) s.x[m.a.motor] = s.x[0];
  if (m.b.motor > 1) s.x[m.b.motor] = s.x[1];
  const dynamics::Effects& e = m.description.effects;
  const double wave = e.stress_free_slope * mean_m +
                      e.stress_free_wave_m * std::sin(2 * std::numbers::pi * mean_m / e.stress_free_wave_length_m);
  // Force of the guides on A (and opposed on B), and of the cable, which friction may hold.
  const double off = skew_m - m.description.plant.stress_free_skew_m - wave;
  const double guides =
      -m.yaw_force_per_skew_n_per_m * (off - std::clamp(off, -0.5 * e.yaw_play_m, 0.5 * e.yaw_play_m));
  const auto hold = [&](const SideModel& side, double force_n, double place_m) {
    if (!held || !(side.bristle.stiffness_n_per_m > 0)) return 0.0;
    const double sum = force_n - side.effects.cable_n - side.effects.cable_n_per_m * place_m;
    return std::clamp(sum, -side.bristle.coulomb_n, side.bristle.coulomb_n) / side.bristle.stiffness_n_per_m;
  };
  s.a.bristle_m = hold(m.a, guides, s.x[0]), s.b.bristle_m = hold(m.b, -guides, s.x[1]);
  const Read first = read_feedback(m, s);
  s.a.last_read_m = first.a_m, s.b.last_read_m = first.b_m;
  return s;
}

double energy_j(const GantryModel& m, const GantryState& s) {
  const Places p = places(m.description.plant);
  const int n = p.count;
  const Eigen::Map<const Eigen::VectorXd> q(s.x.data(), n), v(s.x.data() + n, n);
  const double free = m.description.plant.stress_free_skew_m, k = m.yaw_force_per_skew_n_per_m;
  // Guides about their stress-free skew: k/2 (skew - free)^2 = quadratic form - k free skew + k free^2/2 (rigid yaw).
  double energy =
      0.5 * v.dot(p.mass * v) + 0.5 * q.dot(p.stiffness * q) - k * free * (q(0) - q(1)) + 0.5 * k * free * free;
  const auto side = [&](const SideModel& model, const SideState& state, double x, double motor) {
    const auto& e = model.effects;
    double sum = 0.5 * model.bristle.stiffness_n_per_m * state.bristle_m * state.bristle_m;
    if (state.brake > 0 || e.brake_drag_n > 0)
      sum += 0.5 * model.brake_stiffness_n_per_m * state.brake_bristle_m * state.brake_bristle_m;
    const double in_stop = x > e.stop_high_m ? x - e.stop_high_m : x < e.stop_low_m ? e.stop_low_m - x : 0;
    const double stretch = motor - x, beyond = std::max(0.0, std::abs(stretch) - e.drive_play_m / 2);
    if (e.drive_play_m > 0) sum += 0.5 * model.drive_stiffness_n_per_m * (beyond * beyond - stretch * stretch);
    sum += 0.5 * e.stop_stiffness_n_per_m * in_stop * in_stop + e.cable_n * x + 0.5 * e.cable_n_per_m * x * x;
    if (e.cogging_n != 0)
      sum += e.cogging_n * e.cogging_pitch_m / (2 * std::numbers::pi) *
             std::cos(2 * std::numbers::pi * motor / e.cogging_pitch_m + e.cogging_phase_rad);
    return sum;
  };
  const double off = q(0) - q(1) - free, play = m.description.effects.yaw_play_m;  // the play stores nothing
  energy += 0.5 * k * (std::pow(std::max(0.0, std::abs(off) - play / 2), 2) - off * off);
  return energy + side(m.a, s.a, q(0), q(m.a.motor)) + side(m.b, s.b, q(1), q(m.b.motor));
}

}  // namespace evenbeam::simulation
