#pragma once
// Nonlinear least squares:  minimise  1/2 |r(x)|^2,  r from R^n to R^m, m >= n, with the Jacobian given.
// Levenberg-Marquardt with Nielsen's damping and column scaling (Marquardt 1963; Madsen, Nielsen and Tingleff 2004,
// "Methods for non-linear least squares problems", algorithm 3.16, from memory).
// covariance = (J'J)^-1, times nothing: residuals are expected in units of their standard deviation.
#include <Eigen/Core>
#include <functional>
#include <string>

namespace evenbeam::math {

// Fills residual (m) and, where `jacobian` is not null, the m x n matrix of derivatives. Returns false where x is
// outside the domain; the step is then shortened.
using ResidualFunction =
    std::function<bool(const Eigen::VectorXd& x, Eigen::VectorXd& residual, Eigen::MatrixXd* jacobian)>;

struct MarquardtOptions {
  int most_iterations = 100;
  double gradient_tolerance = 1e-12;  // of |J'r| relative to |J_j| |r|, largest
  double step_tolerance = 1e-12;      // relative to |x|, after scaling
  double first_damping = 1e-3;
  bool covariance = true;  // false: left empty, for whoever only searches
};

struct MarquardtResult {
  enum class End { not_done, gradient_small, step_small, no_progress, iterations_used, outside_domain };
  End end = End::not_done;
  bool usable() const { return end != End::not_done && end != End::outside_domain; }
  Eigen::VectorXd x;
  double half_squares = 0;  // 1/2 |r|^2 at x
  int iterations = 0;
  Eigen::MatrixXd covariance;  // (J'J)^-1 at x; NaN where singular
};

MarquardtResult minimise(const ResidualFunction& function, const Eigen::VectorXd& start,
                         const MarquardtOptions& options = {});

}  // namespace evenbeam::math
