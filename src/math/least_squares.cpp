#include "math/least_squares.h"

#include <fmt/format.h>

#include <Eigen/QR>
#include <Eigen/SVD>
#include <algorithm>
#include <cmath>

#include "math/double_double.h"

namespace evenbeam::math {
namespace {

constexpr double rounding = 0x1p-53;
// A direction shorter than this (scaled columns, times their number) is rounding, not information.
constexpr double rank_threshold = 4 * 0x1p-52;
// Zero to this part of the data counts as zero.
constexpr double zero_of_data = 1e-12;

// The scaled triangle and what goes with it: columns scaled by powers of two, A S P = Q R.
struct Factor {
  Eigen::VectorXd scale;         // x = scale .* (scaled x)
  Eigen::MatrixXd inverse;       // (R P')^-1, scaled, rows in coefficient order
  Eigen::VectorXd column_norms;  // of the scaled columns
  double condition = 0;
};

double power_of_two_near(double x) { return x > 0 ? std::ldexp(1.0, -std::ilogb(x)) : 1.0; }

double sum_of_squares(const Eigen::VectorXd& v) {
  DoubleDouble sum;
  for (Eigen::Index i = 0; i < v.size(); ++i) add_product(sum, v(i), v(i));
  return to_double(sum);
}

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

struct Sums {
  double residual = 0;  // weighted sum of squares
  double total = 0;     // about the mean or zero
  double y_norm = 0;
  double own_error = 0;       // relative backward error of the solver itself
  Eigen::VectorXd last_step;  // refinement's last correction (scaled), or empty
};

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

// Rows with weight, each times sqrt(weight), columns scaled.
struct Prepared {
  Eigen::MatrixXd a;
  Eigen::VectorXd y;
  Sums sums;
};

double total_about_mean(const Matrix& a, std::span<const double> y, std::span<const double> weights) {
  bool constant = false;
  for (std::size_t j = 0; j < a.columns && !constant; ++j) {
    const auto first = a.values.begin() + static_cast<std::ptrdiff_t>(j * a.rows);
    const auto last = first + static_cast<std::ptrdiff_t>(a.rows);
    constant = *first != 0 && std::all_of(first, last, [&](double v) { return v == *first; });
  }
  DoubleDouble weight_sum, moment, total;
  const auto weight = [&](std::size_t i) { return weights.empty() ? 1.0 : weights[i]; };
  for (std::size_t i = 0; i < y.size(); ++i) {
    add(weight_sum, weight(i));
    add_product(moment, weight(i), y[i]);
  }
  const double mean = constant ? to_double(moment) / to_double(weight_sum) : 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) add_product(total, weight(i) * (y[i] - mean), y[i] - mean);
  return to_double(total);
}

Prepared prepare(const Matrix& a, std::span<const double> y, std::span<const double> weights, Factor& factor) {
  std::vector<std::size_t> kept;
  for (std::size_t i = 0; i < a.rows; ++i)
    if (weights.empty() || weights[i] > 0) kept.push_back(i);
  const auto m = static_cast<Eigen::Index>(kept.size()), n = static_cast<Eigen::Index>(a.columns);
  Prepared p{Eigen::MatrixXd(m, n), Eigen::VectorXd(m), {}};
  for (Eigen::Index i = 0; i < m; ++i) {
    const std::size_t from = kept[static_cast<std::size_t>(i)];
    const double root = weights.empty() ? 1.0 : std::sqrt(weights[from]);
    for (Eigen::Index j = 0; j < n; ++j) p.a(i, j) = root * a(from, static_cast<std::size_t>(j));
    p.y(i) = root * y[from];
  }
  factor.scale.resize(n);
  for (Eigen::Index j = 0; j < n; ++j) {
    factor.scale(j) = power_of_two_near(p.a.col(j).norm());
    p.a.col(j) *= factor.scale(j);
  }
  factor.column_norms = p.a.colwise().norm().transpose();
  p.sums.y_norm = p.y.norm();
  p.sums.total = total_about_mean(a, y, weights);
  return p;
}

using Qr = Eigen::ColPivHouseholderQR<Eigen::MatrixXd>;

// One correction of (r, x) on the augmented system; residuals in double-double.
Eigen::VectorXd refine_once(const Prepared& p, const Qr& qr, Eigen::VectorXd& r, Eigen::VectorXd& x) {
  const Eigen::Index m = p.a.rows(), n = p.a.cols();
  Eigen::VectorXd f(m), g(n);
  for (Eigen::Index i = 0; i < m; ++i) {
    DoubleDouble sum{p.y(i), 0};
    add(sum, -r(i));
    for (Eigen::Index j = 0; j < n; ++j) add_product(sum, -p.a(i, j), x(j));
    f(i) = to_double(sum);
  }
  for (Eigen::Index j = 0; j < n; ++j) {
    DoubleDouble sum;
    for (Eigen::Index i = 0; i < m; ++i) add_product(sum, -p.a(i, j), r(i));
    g(j) = to_double(sum);
  }
  const auto triangle = qr.matrixR().topRows(n).template triangularView<Eigen::Upper>();
  const Eigen::VectorXd h = triangle.transpose().solve(Eigen::VectorXd(qr.colsPermutation().transpose() * g));
  Eigen::VectorXd d = qr.householderQ().adjoint() * f;
  const Eigen::VectorXd step = qr.colsPermutation() * Eigen::VectorXd(triangle.solve(Eigen::VectorXd(d.head(n) - h)));
  d.head(n) = h;
  r += qr.householderQ() * d;
  x += step;
  return step;
}

// Refines until the step stops shrinking. False where it does not converge.
bool refine(const Prepared& p, const Qr& qr, Eigen::VectorXd& r, Eigen::VectorXd& x, Eigen::VectorXd& last_step) {
  double previous = std::numeric_limits<double>::infinity();
  for (int round = 0; round < 12; ++round) {
    last_step = refine_once(p, qr, r, x);
    const double size = last_step.norm();
    if (!std::isfinite(size)) return false;
    if (size <= 2 * rounding * x.norm()) return true;
    if (round > 1 && size > 0.5 * previous) return size < 1e-6 * x.norm();
    previous = size;
  }
  return true;
}

bool all_finite(std::span<const double> values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return std::isfinite(v); });
}

bool weights_usable(std::span<const double> weights) {
  return all_finite(weights) && std::all_of(weights.begin(), weights.end(), [](double w) { return w >= 0; });
}

}  // namespace

LeastSquaresResult solve_least_squares(const Matrix& a, std::span<const double> y, std::span<const double> weights,
                                       const LeastSquaresOptions& options) {
  base::check(a.columns > 0 && a.rows == y.size() && (weights.empty() || weights.size() == y.size()),
              "least squares: sizes of matrix, right side and weights agree",
              {double(a.rows), double(a.columns), double(y.size()), double(weights.size())});
  LeastSquaresResult result;
  if (!all_finite(a.values) || !all_finite(y) || !weights_usable(weights)) {
    refuse(result, FitState::not_finite, "a value is not a finite number, or a weight is negative", a.columns);
    return result;
  }
  Factor factor;
  Prepared p = prepare(a, y, weights, factor);
  result.degrees_of_freedom = p.a.rows() - p.a.cols();
  if (result.degrees_of_freedom < 0) {
    refuse(result, FitState::too_few_rows, fmt::format("{} rows for {} coefficients", p.a.rows(), p.a.cols()),
           a.columns);
    return result;
  }
  const Qr qr(p.a);
  const Eigen::Index n = p.a.cols();
  const Eigen::MatrixXd upper = qr.matrixR().topRows(n).template triangularView<Eigen::Upper>();
  if (!judge_rank(upper * qr.colsPermutation().transpose(), factor, result)) {
    refuse(result, FitState::cannot_tell, name_weak(result), a.columns);
    return result;
  }
  Eigen::VectorXd x = Eigen::VectorXd::Zero(n), r = p.y;
  // The first pass is the plain solution; the next ones take its rounding out.
  if (!refine(p, qr, r, x, p.sums.last_step)) {
    refuse(result, FitState::digits_lost, "refinement does not converge: " + name_weak(result), a.columns);
    return result;
  }
  p.sums.residual = sum_of_squares(r);
  finish(factor, x, p.sums, options, result);
  return result;
}

RowFolder::RowFolder(std::size_t columns)
    : columns_(columns),
      block_(columns + 1 + std::max<std::size_t>(256, 4 * (columns + 1)), columns + 1),
      lowest_(columns, std::numeric_limits<double>::infinity()),
      highest_(columns, -std::numeric_limits<double>::infinity()) {
  base::check(columns > 0, "row folder: at least one column");
}

void RowFolder::add(std::span<const double> row, double y, double weight) {
  base::check(row.size() == columns_, "row folder: numbers in a row", {double(row.size()), double(columns_)});
  if (weight == 0) return;
  if (!all_finite(row) || !std::isfinite(y) || !(weight > 0) || !std::isfinite(weight)) {
    ++bad_rows_;
    return;
  }
  const std::size_t at = columns_ + 1 + pending_;
  const double root = std::sqrt(weight);
  for (std::size_t j = 0; j < columns_; ++j) {
    block_(at, j) = root * row[j];
    lowest_[j] = std::min(lowest_[j], row[j]);
    highest_[j] = std::max(highest_[j], row[j]);
  }
  block_(at, columns_) = root * y;
  weight_sum_ += weight;
  const double from_mean = y - mean_;
  mean_ += from_mean * weight / weight_sum_;
  spread_ += weight * from_mean * (y - mean_);
  ++rows_;
  if (++pending_ == block_.rows - columns_ - 1) fold();
}

void RowFolder::fold() {
  const auto n = static_cast<Eigen::Index>(columns_ + 1), used = n + static_cast<Eigen::Index>(pending_);
  Eigen::Map<Eigen::MatrixXd> whole(block_.values.data(), static_cast<Eigen::Index>(block_.rows), n);
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(whole.topRows(used));
  whole.setZero();
  whole.topRows(n) = qr.matrixQR().topRows(n).template triangularView<Eigen::Upper>();
  pending_ = 0;
}

LeastSquaresResult RowFolder::solve(const LeastSquaresOptions& options) {
  if (pending_ > 0) fold();
  LeastSquaresResult result;
  result.degrees_of_freedom = rows_ - static_cast<long>(columns_);
  if (bad_rows_ > 0) {
    refuse(result, FitState::not_finite, fmt::format("{} rows hold a value that is not finite", bad_rows_), columns_);
    return result;
  }
  if (result.degrees_of_freedom < 0) {
    refuse(result, FitState::too_few_rows, fmt::format("{} rows for {} coefficients", rows_, columns_), columns_);
    return result;
  }
  const auto n = static_cast<Eigen::Index>(columns_);
  Eigen::Map<Eigen::MatrixXd> whole(block_.values.data(), static_cast<Eigen::Index>(block_.rows), n + 1);
  Eigen::MatrixXd triangle = whole.topLeftCorner(n, n);
  Factor factor;
  factor.scale.resize(n);
  for (Eigen::Index j = 0; j < n; ++j) {
    factor.scale(j) = power_of_two_near(triangle.col(j).norm());
    triangle.col(j) *= factor.scale(j);
  }
  factor.column_norms = triangle.colwise().norm().transpose();
  if (!judge_rank(triangle, factor, result)) {
    refuse(result, FitState::cannot_tell, name_weak(result), columns_);
    return result;
  }
  Sums sums;
  sums.y_norm = whole.col(n).head(n + 1).norm();
  sums.residual = whole(n, n) * whole(n, n);
  bool constant = false;
  for (std::size_t j = 0; j < columns_; ++j) constant |= lowest_[j] == highest_[j] && lowest_[j] != 0;
  sums.total = constant ? spread_ : sums.y_norm * sums.y_norm;
  // Householder QR: backward error of the order of (columns) roundings, growing slowly with the blocks folded.
  const double blocks = static_cast<double>(rows_) / static_cast<double>(block_.rows - columns_ - 1) + 1;
  sums.own_error = static_cast<double>(columns_ + 1) * std::sqrt(blocks) * rounding;
  const Eigen::VectorXd x = triangle.template triangularView<Eigen::Upper>().solve(whole.col(n).head(n));
  finish(factor, x, sums, options, result);
  return result;
}

}  // namespace evenbeam::math
