#include "math/fit_judgement.h"

#include <fmt/format.h>

#include <Eigen/SVD>

namespace evenbeam::math {
namespace {

// A direction shorter than this (scaled columns, times their number) is rounding, not information.
constexpr double rank_threshold = 4 * 0x1p-52;
// Zero to this part of the data counts as zero.
constexpr double zero_of_data = 1e-12;

void find_errors(const Factor& factor, const Eigen::VectorXd& x, const Sums& sums, const LeastSquaresOptions& options,
                 LeastSquaresResult& result) {
  const Eigen::Index n = x.size();
  const double rows = static_cast<double>(result.degrees_of_freedom + n);
  const double entries = options.entry_error * std::min(1.0, 4 / std::sqrt(3 * rows)) + sums.own_error;
  const double fitted = factor.column_norms.cwiseProduct(x.cwiseAbs()).sum() + sums.y_norm;
  const double residual = std::sqrt(sums.residual);
  const Eigen::MatrixXd gram = factor.inverse * factor.inverse.transpose();
  result.trusted_digits = 17;
  for (Eigen::Index i = 0; i < n; ++i) {
    double error = entries * (factor.inverse.row(i).norm() * fitted +
                              gram.row(i).cwiseAbs().dot(factor.column_norms) * residual);
    if (sums.last_step.size() > 0) error += std::abs(sums.last_step(i));
    error += rounding * std::abs(x(i));
    const double se = result.standard_errors[static_cast<std::size_t>(i)] / factor.scale(i);
    const double size = std::max(std::abs(x(i)), std::isfinite(se) ? se : 0.0);
    const bool zero = error * factor.column_norms(i) <= zero_of_data * sums.y_norm;
    result.numerical_errors.push_back(error * factor.scale(i));
    if (error > 0 && !zero) result.trusted_digits = std::min(result.trusted_digits, std::log10(size / error));
  }
  result.trusted_digits = std::max(result.trusted_digits, 0.0);
}

}  // namespace

// Singular values of the scaled triangle R P': condition, the worst direction, and whether all are well above
// rounding.
bool judge_rank(const Eigen::MatrixXd& triangle, Factor& factor, LeastSquaresResult& result) {
  const Eigen::Index n = triangle.cols();
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(triangle, Eigen::ComputeFullV | Eigen::ComputeFullU);
  const Eigen::VectorXd& values = svd.singularValues();
  factor.condition = values(n - 1) > 0 ? values(0) / values(n - 1) : std::numeric_limits<double>::infinity();
  result.scaled_condition = factor.condition;
  Eigen::VectorXd worst = svd.matrixV().col(n - 1);
  worst /= worst.cwiseAbs().maxCoeff();
  for (Eigen::Index i = 0; i < n; ++i) {
    if (std::abs(worst(i)) > 0.1) result.weak_coefficients.push_back(static_cast<std::size_t>(i));
    result.weak_direction.push_back(worst(i) * factor.scale(i));
  }
  if (!(values(n - 1) > static_cast<double>(n) * rank_threshold * values(0))) return false;
  factor.inverse = svd.matrixV() * values.cwiseInverse().asDiagonal() * svd.matrixU().transpose();
  return true;
}

std::string name_weak(const LeastSquaresResult& result) {
  return fmt::format("coefficients {} cannot be told apart by these rows (scaled condition {:.1e})",
                     fmt::join(result.weak_coefficients, ", "), result.scaled_condition);
}

void refuse(LeastSquaresResult& result, FitState state, std::string reason, std::size_t columns) {
  result.state = state;
  result.reason = std::move(reason);
  result.coefficients.assign(columns, std::numeric_limits<double>::quiet_NaN());
  result.standard_errors = result.coefficients;
  result.covariance = Matrix(columns, columns, std::numeric_limits<double>::quiet_NaN());
}

void finish(const Factor& factor, const Eigen::VectorXd& x, const Sums& sums, const LeastSquaresOptions& options,
            LeastSquaresResult& result) {
  const auto n = static_cast<std::size_t>(x.size());
  result.residual_sum_of_squares = sums.residual;
  if (result.degrees_of_freedom > 0)
    result.residual_sd = std::sqrt(sums.residual / static_cast<double>(result.degrees_of_freedom));
  if (sums.total > 0) result.r_squared = 1 - sums.residual / sums.total;
  const double variance = options.known_variance ? 1.0 : result.residual_sd * result.residual_sd;
  const Eigen::MatrixXd gram = factor.inverse * factor.inverse.transpose();
  result.covariance = Matrix(n, n);
  for (std::size_t i = 0; i < n; ++i) {
    const auto row = static_cast<Eigen::Index>(i);
    for (std::size_t j = 0; j < n; ++j) {
      const auto column = static_cast<Eigen::Index>(j);
      result.covariance(i, j) = variance * gram(row, column) * factor.scale(row) * factor.scale(column);
    }
    result.standard_errors.push_back(std::sqrt(variance) * factor.inverse.row(row).norm() * factor.scale(row));
    result.coefficients.push_back(x(row) * factor.scale(row));
  }
  find_errors(factor, x, sums, options, result);
  if (result.trusted_digits < -std::log10(options.needed_error)) {
    refuse(
        result, FitState::digits_lost,
        fmt::format("only about {:.0f} digits would hold: {}", std::floor(result.trusted_digits), name_weak(result)),
        n);
    return;
  }
  result.state = FitState::solved;
}

}  // namespace evenbeam::math
