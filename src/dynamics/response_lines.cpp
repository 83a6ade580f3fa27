#include "dynamics/response_lines.h"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <utility>

#include "base/check.h"

namespace evenbeam::dynamics {
namespace {

constexpr int kLanes = 8;
using Pack = double __attribute__((vector_size(kLanes * sizeof(double))));

struct Values {
  Pack real, imag;
};
Values operator+(const Values& p, const Values& q) { return {p.real + q.real, p.imag + q.imag}; }
Values operator-(const Values& p, const Values& q) { return {p.real - q.real, p.imag - q.imag}; }
Values operator*(const Values& p, const Values& q) {
  return {p.real * q.real - p.imag * q.imag, p.real * q.imag + p.imag * q.real};
}
Values inverse(const Values& p) {
  const Pack by = 1.0 / (p.real * p.real + p.imag * p.imag);
  return {p.real * by, -p.imag * by};
}

// Symmetric entries of stiffness, damping and mass: Z = k - w^2 m + jw d.
struct Entry {
  double stiffness = 0, damping = 0, mass = 0;
};
Values at(const Entry& e, const Pack& w, const Pack& square) {
  return {e.stiffness - square * e.mass, w * e.damping};
}

struct Drive {
  bool elastic = false;
  Entry motor, coupling;  // of the motor with itself and with its end
};

// Ends first, then what else the beam carries; at most bending and carriage.
struct Folded {
  int count = 2;
  std::array<std::array<Entry, 4>, 4> body;
  Drive a, b;
  double scale_a = 1, scale_b = 1;
  bool feedback_on_motor = false;
};

Folded folded(const Plant& plant) {
  const Motion m = motion(plant);
  Folded out{
      .scale_a = plant.a.force_scale, .scale_b = plant.b.force_scale, .feedback_on_motor = plant.feedback_on_motor};
  std::array<int, 2> extra{};
  for (int k : {m.at.bending, m.at.carriage})
    if (k >= 0) extra[static_cast<size_t>(out.count++ - 2)] = k;
  // Columns: mean, yaw, ... for a unit of x_A, x_B, bending, carriage. The ends' rows invert in closed form.
  Eigen::Matrix<double, Eigen::Dynamic, 4, 0, most_coordinates, 4> turn(m.at.count, 4);
  turn.setZero();
  const double yaw_a = m.end_a(m.at.yaw), yaw_b = m.end_b(m.at.yaw), span = yaw_a - yaw_b;
  turn(m.at.mean, 0) = -yaw_b / span, turn(m.at.mean, 1) = yaw_a / span;
  turn(m.at.yaw, 0) = 1 / span, turn(m.at.yaw, 1) = -1 / span;
  for (int k = 2; k < out.count; ++k) {
    const int here = extra[static_cast<size_t>(k - 2)];
    turn(here, k) = 1;
    turn(m.at.mean, k) = (yaw_b * m.end_a(here) - yaw_a * m.end_b(here)) / span;
    turn(m.at.yaw, k) = (m.end_b(here) - m.end_a(here)) / span;
  }
  const auto turned = [&](const MotionMatrix& x) { return Eigen::Matrix4d(turn.transpose() * x * turn); };
  const Eigen::Matrix4d stiffness = turned(m.stiffness), damping = turned(m.damping), mass = turned(m.mass);
  for (int i = 0; i < out.count; ++i)
    for (int k = 0; k < out.count; ++k)
      out.body[static_cast<size_t>(i)][static_cast<size_t>(k)] = {stiffness(i, k), damping(i, k), mass(i, k)};
  const auto drive = [](const PlantSide& side, int motor) {
    if (motor < 0) return Drive{};
    const double k = side.drive_stiffness_n_per_m, c = side.drive_damping_n_s_per_m;
    return Drive{true, {k, c, side.motor_mass_kg}, {-k, -c, 0}};
  };
  out.a = drive(plant.a, m.at.motor_a), out.b = drive(plant.b, m.at.motor_b);
  return out;
}

// How much of a motor's force its end feels, and what the motor adds to its own answer.
struct Fold {
  Values passed{Pack{} + 1.0, Pack{}}, own{};
};
Fold fold(const Drive& d, const Pack& w, const Pack& square, Values& end) {
  if (!d.elastic) return {};
  const Values own = inverse(at(d.motor, w, square)), coupling = at(d.coupling, w, square);
  const Values passed = Values{} - coupling * own;
  end = end + coupling * passed;
  return {passed, own};
}

struct Answer {
  Values aa, ab, ba, bb;
};

template <size_t count>
Answer answer(const Folded& f, const Pack& w) {
  const Pack square = w * w;
  Values z[count][count];
  for (size_t i = 0; i < count; ++i)
    for (size_t k = 0; k <= i; ++k) z[i][k] = at(f.body[i][k], w, square);
  const Fold a = fold(f.a, w, square, z[0][0]), b = fold(f.b, w, square, z[1][1]);
  for (size_t last = count - 1; last > 1; --last) {
    const Values pivot = inverse(z[last][last]);
    for (size_t i = 0; i < last; ++i) {
      const Values by = z[last][i] * pivot;
      for (size_t k = 0; k <= i; ++k) z[i][k] = z[i][k] - by * z[last][k];
    }
  }
  const Values by = inverse(z[0][0] * z[1][1] - z[1][0] * z[1][0]);
  const Values cross = Values{} - z[1][0] * by;
  Answer out{z[1][1] * by * a.passed, cross * b.passed, cross * a.passed, z[0][0] * by * b.passed};
  if (!f.feedback_on_motor) return out;
  return {out.aa * a.passed + a.own, out.ab * a.passed, out.ba * b.passed, out.bb * b.passed + b.own};
}

}  // namespace

ResponseLines response_lines(std::vector<double> angular_rad_per_s, double hold_period_s, double delay_s,
                             double current_lag_s) {
  base::check(hold_period_s >= 0, "hold period >= 0", {hold_period_s});
  ResponseLines out{std::move(angular_rad_per_s), hold_period_s, delay_s, current_lag_s, {}, {}};
  for (const double w : out.angular_rad_per_s) {
    base::check(w > 0, "frequency > 0", {w});
    const double half = 0.5 * w * hold_period_s, hold = half > 0 ? std::sin(half) / half : 1;
    const std::complex<double> path =
        std::polar(hold, -half - w * delay_s) / std::complex<double>(1, w * current_lag_s);
    out.path_real.push_back(path.real());
    out.path_imag.push_back(path.imag());
  }
  return out;
}

void responses(const Plant& plant, const ResponseLines& lines, std::vector<SideResponse>& out) {
  const Folded f = folded(plant);
  const auto answers = f.count == 2 ? answer<2> : f.count == 3 ? answer<3> : answer<4>;
  const size_t count = lines.angular_rad_per_s.size();
  out.resize(count);
  for (size_t from = 0; from < count; from += kLanes) {
    const size_t here = std::min<size_t>(kLanes, count - from);
    Pack w = Pack{} + lines.angular_rad_per_s[from];  // lanes without a line repeat the first
    Values path{};
    for (size_t k = 0; k < here; ++k) {
      w[k] = lines.angular_rad_per_s[from + k];
      path.real[k] = lines.path_real[from + k], path.imag[k] = lines.path_imag[from + k];
    }
    const Answer g = answers(f, w);
    const Values to_a = {path.real * f.scale_a, path.imag * f.scale_a},
                 to_b = {path.real * f.scale_b, path.imag * f.scale_b};
    const Values aa = g.aa * to_a, ab = g.ab * to_b, ba = g.ba * to_a, bb = g.bb * to_b;
    for (size_t k = 0; k < here; ++k)
      out[from + k] = {
          {aa.real[k], aa.imag[k]}, {ab.real[k], ab.imag[k]}, {ba.real[k], ba.imag[k]}, {bb.real[k], bb.imag[k]}};
  }
}

}  // namespace evenbeam::dynamics
