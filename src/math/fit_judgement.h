#pragma once
// Inner part of least_squares: from a scaled triangle to rank, errors, covariance, and the decision to answer or
// refuse.
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <span>
#include <string>

#include "math/least_squares.h"

namespace evenbeam::math {

// The scaled triangle and what goes with it: columns scaled by powers of two, A S P = Q R.
struct Factor {
  Eigen::VectorXd scale;         // x = scale .* (scaled x)
  Eigen::MatrixXd inverse;       // (R P')^-1, scaled, rows in coefficient order
  Eigen::VectorXd column_norms;  // of the scaled columns
  double condition = 0;
};

struct Sums {
  double residual = 0;  // weighted sum of squares
  double total = 0;     // about the mean or zero
  double y_norm = 0;
  double own_error = 0;       // relative backward error of the solver itself
  Eigen::VectorXd last_step;  // refinement's last correction (scaled), or empty
};

// Singular values of the scaled triangle R P': condition and the worst direction into `result`, the inverse into
// `factor`. False where a direction is no longer than rounding.
bool judge_rank(const Eigen::MatrixXd& triangle, Factor& factor, LeastSquaresResult& result);

// "coefficients 1, 3 cannot be told apart by these rows (scaled condition 2e+14)"
std::string name_weak(const LeastSquaresResult& result);
void refuse(LeastSquaresResult& result, FitState state, std::string reason, std::size_t columns);

// The answer x (scaled) with everything that goes with it; refused where its digits do not hold.
void finish(const Factor& factor, const Eigen::VectorXd& x, const Sums& sums, const LeastSquaresOptions& options,
            LeastSquaresResult& result);

inline double power_of_two_near(double x) { return x > 0 ? std::ldexp(1.0, -std::ilogb(x)) : 1.0; }
inline bool all_finite(std::span<const double> values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

inline constexpr double rounding = 0x1p-53;

}  // namespace evenbeam::math
