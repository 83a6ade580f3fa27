#include "gantry.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace generator {
namespace {

constexpr double pi = std::numbers::pi;
enum : std::size_t { motor_a, motor_b, mean, yaw, bend };

// Adds a point mass at y: its speed is X' - y theta' + shape w'.
void add_point(Coordinates& m, double mass_kg, double y_m, double shape) {
  const double row[coordinates] = {0, 0, 1, -y_m, shape};
  for (std::size_t i = 0; i < coordinates; ++i)
    for (std::size_t k = 0; k < coordinates; ++k) m(i, k) += mass_kg * row[i] * row[k];
}

// Adds k (row . q)^2 / 2 to a stiffness, or the like to a damping.
void add_link(Coordinates& m, double k, const std::array<double, coordinates>& row) {
  for (std::size_t i = 0; i < coordinates; ++i)
    for (std::size_t j = 0; j < coordinates; ++j) m(i, j) += k * row[i] * row[j];
}

// Beam of density (m/L)(1 + 12 y_b y / L^2): integrals of 1, y, y^2, c, y c, c^2 with c = cos(pi y / L).
void add_beam(Coordinates& m, const TrueGantry& g) {
  const double mass = g.bridge_mass_kg, span = g.span_m;
  const double y2_cos = span * span * (1 / (2 * pi) - 4 / (pi * pi * pi));  // mean of y^2 c over the beam
  m(mean, mean) += mass;
  m(mean, yaw) -= mass * g.bridge_centre_y_m;
  m(yaw, mean) -= mass * g.bridge_centre_y_m;
  m(yaw, yaw) += mass * span * span / 12;
  m(mean, bend) += mass * 2 / pi;
  m(bend, mean) += mass * 2 / pi;
  const double skewed = mass * 12 * g.bridge_centre_y_m / (span * span) * y2_cos;
  m(yaw, bend) -= skewed;
  m(bend, yaw) -= skewed;
  m(bend, bend) += mass / 2;
}

// Rows that turn q into the speed of the ends and the stretch of the drives.
std::array<double, coordinates> end_row(const TrueGantry& g, double side) {
  return {0, 0, 1, side * g.span_m / 2, 0};
}

Coordinates links(const TrueGantry& g, double drive_a, double drive_b, double end_a, double end_b, double at_yaw,
                  double at_bend) {
  Coordinates m;
  add_link(m, drive_a, {1, 0, -1, -g.span_m / 2, 0});
  add_link(m, drive_b, {0, 1, -1, g.span_m / 2, 0});
  add_link(m, end_a, end_row(g, 1));
  add_link(m, end_b, end_row(g, -1));
  m(yaw, yaw) += at_yaw;
  m(bend, bend) += at_bend;
  return m;
}

struct Friction {
  double force_n = 0, bristle_speed_m_per_s = 0;
};

double sliding_force_n(const TrueSide& s, double v) {
  const double ratio = v / s.stribeck_speed_m_per_s;
  return s.coulomb_n + (s.breakaway_n - s.coulomb_n) * std::exp(-ratio * ratio);
}
double bristle_stiffness(const TrueSide& s) { return s.breakaway_n / s.bristle_travel_m; }
// Damps the bristles' own ringing at rest (0.1 of critical with 50 kg on the side, a round figure) and fades above
// 1 mm/s: with constant damping a fast reversal would show a force spike that real guides do not have.
double bristle_damping(const TrueSide& s, double v) {
  const double ratio = v / 0.001;
  return 0.2 * std::sqrt(bristle_stiffness(s) * 50.0) * std::exp(-ratio * ratio);
}

double friction_n(const TrueSide& s, double z, double v) {
  if (s.breakaway_n <= 0) return 0;
  const double k = bristle_stiffness(s);
  return k * z + bristle_damping(s, v) * (v - k * std::abs(v) * z / sliding_force_n(s, v));
}

// z' = v - rate z with v held: exact over the time given.
double bristle_after(const TrueSide& s, double z, double v, double time_s) {
  if (s.breakaway_n <= 0) return 0;
  const double rate = bristle_stiffness(s) * std::abs(v) / sliding_force_n(s, v);
  const double decay = -std::expm1(-rate * time_s);
  return rate * time_s < 1e-12 ? z + v * time_s : z + (v / rate - z) * decay;
}

double ripple_n(const TrueSide& s, double motor_place_m) {
  return s.ripple_n * std::sin(2 * pi * motor_place_m / s.ripple_pitch_m + s.ripple_phase_rad);
}

Matrix<states, 2> input_matrix(const TrueGantry& g) {
  Matrix<states, 2> b;
  b(10, 0) = g.a.force_scale / g.current_lag_s;
  b(11, 1) = g.b.force_scale / g.current_lag_s;
  return b;
}

Matrix<states, states> system_matrix(const TrueGantry& g, const Coordinates& inverse_mass) {
  const Coordinates k = product(inverse_mass, stiffness_matrix(g)), c = product(inverse_mass, damping_matrix(g));
  Matrix<states, states> a;
  for (std::size_t i = 0; i < coordinates; ++i) {
    a(i, 5 + i) = 1;
    for (std::size_t j = 0; j < coordinates; ++j) a(5 + i, j) = -k(i, j), a(5 + i, 5 + j) = -c(i, j);
    a(5 + i, 10) = inverse_mass(i, motor_a);
    a(5 + i, 11) = inverse_mass(i, motor_b);
  }
  a(10, 10) = a(11, 11) = -1 / g.current_lag_s;
  return a;
}

void linear_half_step(const Stepper& s, GantryState& state, double u_a, double u_b) {
  std::array<double, states> next;
  for (std::size_t i = 0; i < states; ++i) {
    double sum = s.half_step_input(i, 0) * u_a + s.half_step_input(i, 1) * u_b;
    for (std::size_t j = 0; j < states; ++j) sum += s.half_step(i, j) * state.x[j];
    next[i] = sum;
  }
  state.x = next;
}

// Speeds after an impulse of friction and ripple of the given length, the friction taken at the given end speeds.
std::array<double, coordinates> speeds_after(const Stepper& s, const GantryState& state, Ends v, Ends ripple,
                                             double time_s) {
  const double half_span = s.gantry.span_m / 2;
  const double r_a = friction_n(s.gantry.a, state.bristle_a_m, v.a);
  const double r_b = friction_n(s.gantry.b, state.bristle_b_m, v.b);
  const double force[coordinates] = {ripple.a, ripple.b, -(r_a + r_b), -half_span * (r_a - r_b), 0};
  std::array<double, coordinates> speeds;
  for (std::size_t i = 0; i < coordinates; ++i) {
    double sum = state.x[5 + i];
    for (std::size_t j = 0; j < coordinates; ++j) sum += time_s * s.inverse_mass(i, j) * force[j];
    speeds[i] = sum;
  }
  return speeds;
}

Ends ends_of(const TrueGantry& g, const std::array<double, coordinates>& q) {
  return {q[mean] + g.span_m / 2 * q[yaw], q[mean] - g.span_m / 2 * q[yaw]};
}

}  // namespace

Coordinates mass_matrix(const TrueGantry& g) {
  Coordinates m;
  m(motor_a, motor_a) = g.a.motor_mass_kg;
  m(motor_b, motor_b) = g.b.motor_mass_kg;
  add_beam(m, g);
  add_point(m, g.end_mass_a_kg, -g.span_m / 2, 0);
  add_point(m, g.end_mass_b_kg, g.span_m / 2, 0);
  const double carriage = g.carriage_mass_kg + g.payload_kg;
  add_point(m, carriage, g.carriage_y_m, std::cos(pi * g.carriage_y_m / g.span_m));
  m(yaw, yaw) += carriage * g.carriage_ahead_m * g.carriage_ahead_m;
  return m;
}

Coordinates stiffness_matrix(const TrueGantry& g) {
  return links(g, g.a.drive_stiffness_n_per_m, g.b.drive_stiffness_n_per_m, 0, 0, g.yaw_stiffness_n_m_per_rad,
               g.bending_stiffness_n_per_m);
}

Coordinates damping_matrix(const TrueGantry& g) {
  return links(g, g.a.drive_damping_n_s_per_m, g.b.drive_damping_n_s_per_m, g.a.viscous_n_s_per_m,
               g.b.viscous_n_s_per_m, g.yaw_damping_n_m_s_per_rad, g.bending_damping_n_s_per_m);
}

RigidSums rigid_sums(const TrueGantry& g) {
  const double half = g.span_m / 2, carriage = g.carriage_mass_kg + g.payload_kg;
  const double at_a = g.end_mass_a_kg + g.a.motor_mass_kg, at_b = g.end_mass_b_kg + g.b.motor_mass_kg;
  RigidSums sums;
  sums.mass_kg = g.bridge_mass_kg + carriage + at_a + at_b;
  sums.moment_kg_m = g.bridge_mass_kg * g.bridge_centre_y_m + carriage * g.carriage_y_m + (at_b - at_a) * half;
  sums.inertia_kg_m2 = g.bridge_mass_kg * g.span_m * g.span_m / 12 + (at_a + at_b) * half * half +
                       carriage * (g.carriage_y_m * g.carriage_y_m + g.carriage_ahead_m * g.carriage_ahead_m);
  return sums;
}

std::vector<double> mode_hz(const TrueGantry& g) {
  const auto squares = symmetric_eigenvalues(stiffness_matrix(g), mass_matrix(g));
  std::vector<double> hz;
  for (std::size_t i = 1; i < coordinates; ++i) hz.push_back(std::sqrt(squares[i]) / (2 * pi));
  return hz;
}

double bending_hz(const TrueGantry& g) {
  const Coordinates m = mass_matrix(g);
  Matrix<3, 3> mass, stiffness;
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) mass(i, j) = m(2 + i, 2 + j);
  stiffness(1, 1) = g.yaw_stiffness_n_m_per_rad;
  stiffness(2, 2) = g.bending_stiffness_n_per_m;
  return std::sqrt(symmetric_eigenvalues(stiffness, mass)[2]) / (2 * pi);
}

Stepper make_stepper(const TrueGantry& gantry, double step_s) {
  Stepper s{gantry, step_s, {}, {}, inverse(mass_matrix(gantry))};
  const Matrix<states, states> a = system_matrix(gantry, s.inverse_mass);
  const Matrix<states, 2> b = input_matrix(gantry);
  // exp of the system with its held inputs as two more states gives step and input matrix together.
  Matrix<states + 2, states + 2> whole;
  for (std::size_t i = 0; i < states; ++i) {
    for (std::size_t j = 0; j < states; ++j) whole(i, j) = a(i, j) * step_s / 2;
    for (std::size_t j = 0; j < 2; ++j) whole(i, states + j) = b(i, j) * step_s / 2;
  }
  const auto e = exponential(whole);
  for (std::size_t i = 0; i < states; ++i) {
    for (std::size_t j = 0; j < states; ++j) s.half_step(i, j) = e(i, j);
    for (std::size_t j = 0; j < 2; ++j) s.half_step_input(i, j) = e(i, states + j);
  }
  return s;
}

void step(const Stepper& s, GantryState& state, double commanded_a_n, double commanded_b_n) {
  linear_half_step(s, state, commanded_a_n, commanded_b_n);
  const TrueGantry& g = s.gantry;
  const double h = s.step_s;
  Ends v = end_speeds_m_per_s(g, state);
  const Ends place = motor_places_m(g, state);
  const Ends ripple{ripple_n(g.a, place.a), ripple_n(g.b, place.b)};
  state.bristle_a_m = bristle_after(g.a, state.bristle_a_m, v.a, h / 2);
  state.bristle_b_m = bristle_after(g.b, state.bristle_b_m, v.b, h / 2);
  const Ends middle = ends_of(g, speeds_after(s, state, v, ripple, h / 2));
  const auto speeds = speeds_after(s, state, middle, ripple, h);
  std::copy(speeds.begin(), speeds.end(), state.x.begin() + 5);
  v = end_speeds_m_per_s(g, state);
  state.bristle_a_m = bristle_after(g.a, state.bristle_a_m, v.a, h / 2);
  state.bristle_b_m = bristle_after(g.b, state.bristle_b_m, v.b, h / 2);
  linear_half_step(s, state, commanded_a_n, commanded_b_n);
}

Ends end_places_m(const TrueGantry& g, const GantryState& s) {
  const Ends e = ends_of(g, {0, 0, s.x[mean], s.x[yaw], 0});
  return {e.a + g.stress_free_skew_m / 2, e.b - g.stress_free_skew_m / 2};
}

Ends motor_places_m(const TrueGantry& g, const GantryState& s) {
  return {s.x[motor_a] + g.stress_free_skew_m / 2, s.x[motor_b] - g.stress_free_skew_m / 2};
}

Ends end_speeds_m_per_s(const TrueGantry& g, const GantryState& s) {
  return ends_of(g, {0, 0, s.x[5 + mean], s.x[5 + yaw], 0});
}

GantryState at_rest(const TrueGantry& g, double place_a_m, double place_b_m) {
  GantryState s;
  s.x[mean] = (place_a_m + place_b_m) / 2;
  s.x[yaw] = (place_a_m - place_b_m - g.stress_free_skew_m) / g.span_m;
  const Ends relaxed = ends_of(g, {0, 0, s.x[mean], s.x[yaw], 0});
  s.x[motor_a] = relaxed.a;
  s.x[motor_b] = relaxed.b;
  return s;
}

double stored_energy_j(const TrueGantry& g, const GantryState& s) {
  const Coordinates m = mass_matrix(g), k = stiffness_matrix(g);
  double energy = 0;
  for (std::size_t i = 0; i < coordinates; ++i)
    for (std::size_t j = 0; j < coordinates; ++j)
      energy += (m(i, j) * s.x[5 + i] * s.x[5 + j] + k(i, j) * s.x[i] * s.x[j]) / 2;
  for (const auto& [side, z] : {std::pair{g.a, s.bristle_a_m}, std::pair{g.b, s.bristle_b_m}})
    energy += bristle_stiffness(side) * z * z / 2;
  return energy;
}

}  // namespace generator
