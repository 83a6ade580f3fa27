#include "dynamics/modes.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "dynamics/linear_response.h"

namespace evenbeam::dynamics {

namespace {

// Which coordinate holds the largest part of the kinetic energy q^T M q of the shape.
std::string name_of(const Motion& m, const Eigen::VectorXd& q) {
  const auto energy = [&](int i) { return i < 0 ? 0.0 : m.mass(i, i) * q(i) * q(i); };
  const double drives = energy(m.at.motor_a) + energy(m.at.motor_b);
  const bool opposed = m.at.motor_a >= 0 && m.at.motor_b >= 0 && q(m.at.motor_a) * q(m.at.motor_b) < 0;
  // A motor that goes along with its end is part of the bridge's motion, not a drive mode: stretch tells.
  const double stretch_a = std::abs((m.motor_a - m.end_a).dot(q)), stretch_b = std::abs((m.motor_b - m.end_b).dot(q));
  const double travel = std::max({std::abs(m.motor_a.dot(q)), std::abs(m.motor_b.dot(q)), std::abs(m.end_a.dot(q)),
                                  std::abs(m.end_b.dot(q)), 1e-300});
  const bool stretched = std::max(stretch_a, stretch_b) > 0.5 * travel;
  const double yaw = energy(m.at.yaw), bending = energy(m.at.bending), carriage = energy(m.at.carriage);
  if (carriage > std::max({yaw, bending, drives})) return "carriage";
  if (bending > std::max(yaw, drives)) return "bending";
  if (stretched) return opposed ? "drives opposed" : "drives together";
  return "yaw";
}

}  // namespace

std::vector<Mode> modes(const Plant& plant) {
  Plant without_lag = plant;
  without_lag.current_lag_s = 0;
  const Motion m = motion(without_lag);
  const math::StateSpace s = continuous(without_lag);
  const math::Balanced balanced = math::balance(s.a);
  const Eigen::EigenSolver<Eigen::MatrixXd> solver(balanced.a);
  base::check(solver.info() == Eigen::Success, "eigenvalues found");
  std::vector<Mode> out;
  const double fastest = solver.eigenvalues().cwiseAbs().maxCoeff();
  for (Eigen::Index i = 0; i < s.a.rows(); ++i) {
    const std::complex<double> lambda = solver.eigenvalues()(i);
    // 1e-6: a double root at zero is only found to the square root of rounding.
    if (!(lambda.imag() > 1e-6 * fastest)) continue;
    const Eigen::VectorXcd state = balanced.scale.asDiagonal() * solver.eigenvectors().col(i);
    Eigen::VectorXcd q = state.head(m.at.count);
    const MotionRow* places[] = {&m.motor_a, &m.motor_b, &m.end_a, &m.end_b, &m.carriage};
    std::complex<double> largest = 0;
    for (const MotionRow* place : places) {
      const std::complex<double> x = place->cast<std::complex<double>>() * q;
      if (std::abs(x) > std::abs(largest)) largest = x;
    }
    const std::complex<double> middle = q(m.at.mean) + (m.at.bending >= 0 ? q(m.at.bending) : 0.0);
    if (std::abs(middle) > std::abs(largest)) largest = middle;
    const Eigen::VectorXd shape = (q / largest).real();
    Mode mode;
    mode.hz = std::abs(lambda) / (2 * std::numbers::pi);
    mode.damping = -lambda.real() / std::abs(lambda);
    mode.motor_a = m.motor_a.dot(shape), mode.motor_b = m.motor_b.dot(shape);
    mode.end_a = m.end_a.dot(shape), mode.end_b = m.end_b.dot(shape);
    mode.carriage = m.carriage.dot(shape), mode.middle = (middle / largest).real();
    mode.name = name_of(m, shape);
    out.push_back(mode);
  }
  std::sort(out.begin(), out.end(), [](const Mode& p, const Mode& q) { return p.hz < q.hz; });
  return out;
}

}  // namespace evenbeam::dynamics
