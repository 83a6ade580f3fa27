#include "math/least_squares.h"

#include <fmt/format.h>

#include <Eigen/QR>

#include "math/double_double.h"
#include "math/fit_judgement.h"

namespace evenbeam::math {
namespace {

double sum_of_squares(const Eigen::VectorXd& v) {
  DoubleDouble sum;
  for (Eigen::Index i = 0; i < v.size(); ++i) add_product(sum, v(i), v(i));
  return to_double(sum);
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

}  // namespace evenbeam::math
