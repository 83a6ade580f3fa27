#include "dynamics/linear_response.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <cmath>

#include "base/check.h"

namespace evenbeam::dynamics {

using Complex = std::complex<double>;
using Eigen::MatrixXd;

ResponseModel response_model(const Plant& plant, double hold_period_s) {
  base::check(hold_period_s >= 0, "hold period >= 0", {hold_period_s});
  return {motion(plant), plant.a.force_scale, plant.b.force_scale, plant.delay_s, plant.current_lag_s, hold_period_s};
}

SideResponse response(const ResponseModel& model, double w) {
  using ComplexMotion = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_coordinates, most_coordinates>;
  const Motion& m = model.motion;
  ComplexMotion dynamic(m.at.count, m.at.count);
  dynamic.real() = m.stiffness - w * w * m.mass;
  dynamic.imag() = w * m.damping;
  ComplexMotion force(m.at.count, 2);
  force << m.motor_a.transpose() * Complex(model.force_scale_a), m.motor_b.transpose() * Complex(model.force_scale_b);
  const ComplexMotion q = dynamic.partialPivLu().solve(force);
  Complex path = std::polar(1.0, -w * model.delay_s) / Complex(1, w * model.current_lag_s);
  if (model.hold_period_s > 0) {
    const double half = 0.5 * w * model.hold_period_s;
    path *= std::polar(half == 0 ? 1.0 : std::sin(half) / half, -half);
  }
  const Eigen::RowVector2cd a = m.feedback_a * q, b = m.feedback_b * q;
  return {path * a(0), path * a(1), path * b(0), path * b(1)};
}

std::vector<SideResponse> linear_response(const Plant& plant, double hold_period_s,
                                          const std::vector<double>& angular_rad_per_s) {
  const ResponseModel model = response_model(plant, hold_period_s);
  std::vector<SideResponse> out;
  out.reserve(angular_rad_per_s.size());
  for (double w : angular_rad_per_s) out.push_back(response(model, w));
  return out;
}

math::StateSpace continuous(const Plant& plant) {
  const Motion m = motion(plant);
  const int n = m.at.count, lags = plant.current_lag_s > 0 ? 2 : 0, size = 2 * n + lags;
  const auto solver = MatrixXd(m.mass).ldlt();
  MatrixXd motors(n, 2);
  motors << m.motor_a.transpose(), m.motor_b.transpose();
  const MatrixXd push = solver.solve(motors);
  const Eigen::Vector2d scale(plant.a.force_scale, plant.b.force_scale);
  math::StateSpace s{MatrixXd::Zero(size, size), MatrixXd::Zero(size, 2), MatrixXd::Zero(2, size),
                     MatrixXd::Zero(2, 2), 0};
  s.a.block(0, n, n, n).setIdentity();
  s.a.block(n, 0, n, n) = -solver.solve(MatrixXd(m.stiffness));
  s.a.block(n, n, n, n) = -solver.solve(MatrixXd(m.damping));
  if (lags) {
    s.a.block(n, 2 * n, n, 2) = push;
    s.a.block(2 * n, 2 * n, 2, 2).diagonal().setConstant(-1 / plant.current_lag_s);
    s.b.block(2 * n, 0, 2, 2).diagonal() = scale / plant.current_lag_s;
  } else {
    s.b.block(n, 0, n, 2) = push * scale.asDiagonal();
  }
  s.c.block(0, 0, 1, n) = m.feedback_a;
  s.c.block(1, 0, 1, n) = m.feedback_b;
  return s;
}

math::StateSpace sampled(const Plant& plant, double period_s) {
  base::check(period_s > 0 && std::isfinite(period_s), "period > 0", {period_s});
  const math::StateSpace c = continuous(plant);
  // u_{k-d-1} acts over the first `part` of the interval, u_{k-d} over the rest. A part of rounding's size is none.
  double whole = std::floor(plant.delay_s / period_s);
  double part = plant.delay_s - whole * period_s;
  if (part > period_s * (1 - 1e-9)) whole += 1, part = 0;
  if (part < period_s * 1e-9) part = 0;
  const int d = static_cast<int>(whole), kept = part > 0 ? d + 1 : d;
  base::check(d < 1000, "delay below 1000 periods", {plant.delay_s, period_s});
  const math::Held rest = math::hold(c.a, c.b, period_s - part);
  const math::Held first = math::hold(c.a, c.b, part);
  const Eigen::Index n = c.a.rows(), size = n + 2 * kept;
  math::StateSpace s{MatrixXd::Zero(size, size), MatrixXd::Zero(size, 2), MatrixXd::Zero(2, size),
                     MatrixXd::Zero(2, 2), period_s};
  s.a.topLeftCorner(n, n) = rest.f * first.f;
  // Past command j back (j = 1 the last one) sits at n + 2 (j - 1).
  const auto add = [&](int back, const MatrixXd& g) {
    if (back == 0)
      s.b.topRows(n) += g;
    else
      s.a.block(0, n + 2 * (back - 1), n, 2) += g;
  };
  add(d, rest.g);
  if (part > 0) add(d + 1, rest.f * first.g);
  if (kept > 0) s.b.block(n, 0, 2, 2).setIdentity();
  for (int j = 1; j < kept; ++j) s.a.block(n + 2 * j, n + 2 * (j - 1), 2, 2).setIdentity();
  s.c.leftCols(n) = c.c;
  return s;
}

}  // namespace evenbeam::dynamics
