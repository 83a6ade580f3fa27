#include "true_modes.h"

#include <Eigen/Dense>
#include <algorithm>
#include <numbers>

namespace evenbeam::checks {

std::vector<TrueMode> true_modes(const generator::TrueGantry& gantry, bool feedback_on_motor) {
  constexpr int n = static_cast<int>(generator::coordinates);
  const auto mass = generator::mass_matrix(gantry), stiffness = generator::stiffness_matrix(gantry),
             damping = generator::damping_matrix(gantry);
  Eigen::MatrixXd m(n, n), k(n, n), d(n, n);
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j) {
      const auto r = static_cast<std::size_t>(i), c = static_cast<std::size_t>(j);
      m(i, j) = mass(r, c), k(i, j) = stiffness(r, c), d(i, j) = damping(r, c);
    }
  Eigen::MatrixXd first = Eigen::MatrixXd::Zero(2 * n, 2 * n);
  first.topRightCorner(n, n).setIdentity();
  first.bottomLeftCorner(n, n) = -m.inverse() * k;
  first.bottomRightCorner(n, n) = -m.inverse() * d;
  const Eigen::EigenSolver<Eigen::MatrixXd> solver(first);
  std::vector<TrueMode> out;
  for (int i = 0; i < 2 * n; ++i) {
    const std::complex<double> p = solver.eigenvalues()[i];
    if (p.imag() <= 1) continue;
    const Eigen::VectorXcd shape = solver.eigenvectors().col(i).head(n);  // u_A, u_B, X, theta, w; w is 0 at the ends
    const std::complex<double> a = feedback_on_motor ? shape[0] : shape[2] + shape[3] * gantry.span_m / 2.0,
                               b = feedback_on_motor ? shape[1] : shape[2] - shape[3] * gantry.span_m / 2.0;
    const std::complex<double> larger = std::abs(a) >= std::abs(b) ? a : b;
    out.push_back({std::abs(p) / (2 * std::numbers::pi), -p.real() / std::abs(p), a / larger, b / larger});
  }
  std::sort(out.begin(), out.end(), [](const TrueMode& x, const TrueMode& y) { return x.hz < y.hz; });
  return out;
}

}  // namespace evenbeam::checks
