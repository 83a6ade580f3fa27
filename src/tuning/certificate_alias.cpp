#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "tuning/certificate_builder.h"

namespace evenbeam::tuning {
namespace {

using Eigen::MatrixXd;

// What all spots may take from or add to a symmetric matrix, in the sense of quadratic forms: c u u^T is at most
// |c| u u^T, any other symmetric matrix at most its row sums on the diagonal.
MatrixXd doubt(const Builder& b, const Numbers& numbers, int n, double by) {
  MatrixXd out = MatrixXd::Zero(n, n);
  Eigen::VectorXd rows = b.model.by_place.topLeftCorner(n, n).cwiseAbs().rowwise().sum();
  out -= b.model.by_payload.topLeftCorner(n, n).real();  // of a mass: nowhere above zero
  for (const Spot& s : b.model.spots) {
    const auto u = s.u.head(n), v = s.v.head(n);
    if (s.u == s.v)
      out += s.radius * u * u.transpose();
    else
      rows += s.radius * v.cwiseAbs().sum() * u.cwiseAbs();
  }
  for (const JointSpot& s : b.model.joint) {
    const double reach = numbers.along.row(s.index).norm();
    const Eigen::VectorXcd u = s.u.head(n), v = s.v.head(n);
    Eigen::Index k = 0;
    v.cwiseAbs().maxCoeff(&k);
    const Complex ratio = u(k) / v(k);
    if (v.imag().isZero(0) && (u - ratio * v).norm() <= 1e-12 * u.norm())
      out += reach * std::abs(ratio) * v.real() * v.real().transpose();
    else
      rows += reach * v.cwiseAbs().sum() * u.cwiseAbs();
  }
  out.diagonal() += rows;
  return by * out;
}

}  // namespace

double alias_at(const AliasBound& a, double w_high) {
  const double rate = 2 * a.half_rate_rad_per_s;
  const double hold = 2 * std::sin(std::min(w_high, a.half_rate_rad_per_s) * a.period_s / 2) / a.period_s;
  const auto term = [&](double x) {
    return hold / x / std::sqrt(1 + x * x * a.least_lag_s * a.least_lag_s) * a.gain / (x * x - a.square_rad2_per_s2);
  };
  double sum = 0;
  constexpr int kTerms = 20;
  for (int k = 1; k <= kTerms; ++k) sum += term(k * rate - w_high) + term(k * rate);
  // Terms fall at least as 1/k^3: the rest is below the integral from the last one.
  return sum + 2 * term(kTerms * rate) * kTerms / 2;
}

// Least mass, greatest stiffness in the sense of quadratic forms, over all places in steps plus what lies between.
std::optional<AliasBound> alias_bound(const Numbers& numbers) {
  const CertificateCase& c = numbers.c;
  AliasBound out{.half_rate_rad_per_s = std::numbers::pi / c.settings.period_s,
                 .period_s = c.settings.period_s,
                 .least_lag_s = numbers[Part::lag].low};
  const double scale = std::max(numbers[Part::scale_a].high, numbers[Part::scale_b].high);
  constexpr int kPlaces = 32;
  for (int i = 0; i < kPlaces; ++i) {
    const double width = (c.carriage_y_m.high - c.carriage_y_m.low) / kPlaces;
    const Box box{{1, 1}, {c.carriage_y_m.low + i * width, c.carriage_y_m.low + (i + 1) * width}, c.payload_kg};
    Builder mass(numbers, 0), whole(numbers, 0), only_mass(numbers, 0);
    PlaceRow motors[2];
    const auto build = [&](Builder& b, double w) {
      Box there = box;
      there.angular_rad_per_s = {w, w};
      add_motion(b, numbers, there, motors);
    };
    // Z(w) = K - w^2 M + jwD: real parts at w = 0 and 1 give K and K - M
    build(whole, 0);
    build(mass, 1);
    const int n = whole.at.count;
    MatrixXd k = whole.model.middle.topLeftCorner(n, n).real(),
             m = k - MatrixXd(mass.model.middle.topLeftCorner(n, n).real());
    build(only_mass, 1e6);  // doubts of M alone: at a frequency where stiffness doubts do not count
    k += doubt(whole, numbers, n, 1);
    m -= doubt(only_mass, numbers, n, 1e-12);
    const Eigen::GeneralizedSelfAdjointEigenSolver<MatrixXd> solver(k, m, Eigen::ComputeEigenvectors);
    if (solver.info() != Eigen::Success || !solver.eigenvalues().allFinite()) return std::nullopt;
    out.square_rad2_per_s2 = std::max(out.square_rad2_per_s2, solver.eigenvalues().maxCoeff());
    const MatrixXd inverse = m.inverse();
    const auto size = [&](const PlaceRow& r) {
      Eigen::VectorXd x = r.middle.head(n);
      const double bends = r.bending_radius + r.bending_joint;
      if (whole.at.bending >= 0)
        x(whole.at.bending) = std::copysign(std::abs(x(whole.at.bending)) + bends, x(whole.at.bending));
      return std::sqrt(std::max(0.0, x.dot(inverse * x)));
    };
    double most = 0;
    for (double y : {-c.plant.span_m / 2, c.plant.span_m / 2})
      most = std::max(most, size(end_row(whole.at, numbers, y)));
    const double push = std::max(size(motors[0]), size(motors[1]));
    if (c.plant.feedback_on_motor) most = push;
    out.gain = std::max(out.gain, scale * most * push);
  }
  const double half = out.half_rate_rad_per_s;
  if (!(out.square_rad2_per_s2 < 0.8 * half * half)) return std::nullopt;
  return out;
}

}  // namespace evenbeam::tuning
