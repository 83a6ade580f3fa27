#include <fmt/format.h>

#include <Eigen/QR>

#include "math/fit_judgement.h"
#include "math/least_squares.h"

namespace evenbeam::math {

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
