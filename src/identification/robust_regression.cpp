#include "identification/robust_regression.h"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "identification/row_sums.h"

namespace evenbeam::identification {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// Weights settle in three or four passes; a refreshed column's error shrinks by its share of y (a few percent) each.
constexpr int kPasses = 4, kRefreshedPasses = 6;

VectorXd row_weights(const Regression& p, const std::vector<double>& group_sd) {
  VectorXd w(p.y.size());
  for (Index i = 0; i < w.size(); ++i) w[i] = 1 / group_sd[static_cast<size_t>(p.group[static_cast<size_t>(i)])];
  return w;
}

std::vector<double> spreads(const Regression& p, const VectorXd& residual) {
  std::vector<double> sum(static_cast<size_t>(p.groups), 0.0);
  std::vector<double> count(static_cast<size_t>(p.groups), 0.0);
  for (Index i = 0; i < residual.size(); ++i) {
    const size_t g = static_cast<size_t>(p.group[static_cast<size_t>(i)]);
    sum[g] += residual[i] * residual[i];
    count[g] += 1;
  }
  double all = 0;
  for (Index i = 0; i < residual.size(); ++i) all += residual[i] * residual[i];
  all /= static_cast<double>(residual.size());
  // A group of few rows borrows the overall spread, so that a lucky fit of theirs doesn't rule the rest.
  constexpr double kEnoughRows = 20;
  for (size_t g = 0; g < sum.size(); ++g) {
    const double borrowed = std::max(0.0, kEnoughRows - count[g]);
    sum[g] = std::sqrt((sum[g] + borrowed * all) / (count[g] + borrowed) + 1e-300);
  }
  return sum;
}

// Rows of the known functions, whitened and tightened.
struct Held {
  MatrixXd rows;    // T R,  T'T = trust^2 covariance^-1
  VectorXd value;   // T v
  MatrixXd spread;  // rows' T covariance T' rows: what their uncertainty adds to the middle of the sandwich
};

Held held(const Regression& p) {
  if (p.known_value.size() == 0)
    return {MatrixXd(0, p.a.cols()), VectorXd(0), MatrixXd::Zero(p.a.cols(), p.a.cols())};
  const Eigen::LLT<MatrixXd> root(p.known_covariance);
  base::check(root.info() == Eigen::Success, "the covariance of what is known is positive definite");
  Held out{p.known_trust * MatrixXd(root.matrixL().solve(p.known_rows)),
           p.known_trust * VectorXd(root.matrixL().solve(p.known_value)),
           {}};
  out.spread = p.known_trust * p.known_trust * out.rows.transpose() * out.rows;
  return out;
}

// R of the QR of the weighted data with prior rows below; columns divided by `scale`.
struct Solved {
  VectorXd x;
  MatrixXd inverse_normal;  // (A'WA + P)^-1
};

Solved weighted_solve(const Regression& p, const VectorXd& w, const Held& known) {
  const Index rows = p.a.rows(), n = p.a.cols(), extra = known.value.size();
  MatrixXd stacked = MatrixXd::Zero(rows + n + extra, n);
  VectorXd right = VectorXd::Zero(rows + n + extra);
  stacked.topRows(rows) = w.asDiagonal() * p.a;
  right.head(rows) = w.cwiseProduct(p.y);
  stacked.bottomRows(extra) = known.rows;
  right.tail(extra) = known.value;
  for (Index j = 0; j < n; ++j) {
    const double sd = p.prior_sd[static_cast<size_t>(j)];
    if (!std::isfinite(sd)) continue;
    stacked(rows + j, j) = 1 / sd;
    right[rows + j] = p.prior_mean[static_cast<size_t>(j)] / sd;
  }
  const VectorXd scale = stacked.colwise().norm().cwiseMax(1e-300);
  stacked = stacked * scale.cwiseInverse().asDiagonal();
  const Eigen::HouseholderQR<MatrixXd> qr(stacked);
  Solved out;
  out.x = scale.cwiseInverse().cwiseProduct(qr.solve(right));
  const MatrixXd r = qr.matrixQR().topRows(n).triangularView<Eigen::Upper>();
  const MatrixXd inverse =
      scale.cwiseInverse().asDiagonal() * r.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(n, n));
  out.inverse_normal = inverse * inverse.transpose();
  return out;
}

double data_condition(const Regression& p, const VectorXd& w) {
  MatrixXd a = w.asDiagonal() * p.a;
  const VectorXd scale = a.colwise().norm().cwiseMax(1e-300);  // held: a lazy one is summed anew for every entry
  a = a * scale.cwiseInverse().asDiagonal();
  const MatrixXd gram = a.transpose() * a;
  const VectorXd squares = gram.selfadjointView<Eigen::Lower>().eigenvalues();
  return std::sqrt(squares.maxCoeff() / std::max(squares.minCoeff(), 1e-18 * squares.maxCoeff()));
}

// sum over clusters of (A_c' W r_c)(A_c' W r_c)', small-sample factor G/(G-1). Rows [from, to).
MatrixXd cluster_scores(const Regression& p, const VectorXd& w, const VectorXd& residual, Index from, Index to,
                        int& clusters) {
  const Index n = p.a.cols();
  MatrixXd sum = MatrixXd::Zero(n, n);
  VectorXd score = VectorXd::Zero(n);
  clusters = 0;
  for (Index i = from; i < to; ++i) {
    score += w[i] * w[i] * residual[i] * p.a.row(i).transpose();
    const bool last = i + 1 == to || p.cluster[static_cast<size_t>(i + 1)] != p.cluster[static_cast<size_t>(i)];
    if (!last) continue;
    sum += score * score.transpose();
    score.setZero();
    ++clusters;
  }
  return clusters > 1 ? MatrixXd(sum * (clusters / (clusters - 1.0))) : sum;
}

MatrixXd prior_normal(const Regression& p) {
  MatrixXd prior = MatrixXd::Zero(p.a.cols(), p.a.cols());
  for (Index j = 0; j < prior.rows(); ++j)
    if (std::isfinite(p.prior_sd[static_cast<size_t>(j)]))
      prior(j, j) = 1 / (p.prior_sd[static_cast<size_t>(j)] * p.prior_sd[static_cast<size_t>(j)]);
  return prior;
}

// Sandwich, never narrower than the inverse normal matrix.
MatrixXd stated_covariance(const MatrixXd& inverse_normal, const MatrixXd& middle) {
  const MatrixXd sandwich = inverse_normal * middle * inverse_normal;
  VectorXd widen(sandwich.rows());
  for (Index j = 0; j < widen.size(); ++j)
    widen[j] = std::max(1.0, std::sqrt(inverse_normal(j, j) / std::max(sandwich(j, j), 1e-300)));
  return widen.asDiagonal() * sandwich * widen.asDiagonal();
}

}  // namespace

RowSums row_sums(const Regression& p, const VectorXd& weights, const VectorXd& x, Index from, Index to) {
  const MatrixXd weighed = weights.segment(from, to - from).asDiagonal() * p.a.middleRows(from, to - from);
  int clusters = 0;
  return {weighed.transpose() * weighed, cluster_scores(p, weights, p.y - p.a * x, from, to, clusters)};
}

MatrixXd covariance_from_sums(const Regression& p, const MatrixXd& normal, const MatrixXd& scores) {
  const Held known = held(p);
  const MatrixXd prior = prior_normal(p), all = normal + prior + known.rows.transpose() * known.rows;
  const VectorXd scale = all.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  const MatrixXd inverse = MatrixXd(scale.asDiagonal() * all * scale.asDiagonal()).inverse();
  return stated_covariance(scale.asDiagonal() * inverse * scale.asDiagonal(), scores + prior + known.spread);
}

RegressionResult solve(Regression p) {
  RegressionResult out;
  const Index n = p.a.cols();
  base::check(p.a.rows() == p.y.size() && p.group.size() == static_cast<size_t>(p.y.size()) &&
                  p.cluster.size() == p.group.size() && p.prior_sd.size() == static_cast<size_t>(n),
              "a regression's parts have equal sizes",
              {static_cast<double>(p.a.rows()), static_cast<double>(p.y.size())});
  if (p.a.rows() < n) {
    out.reason = "fewer rows than unknowns";
    return out;
  }
  base::check(p.a.allFinite() && p.y.allFinite(), "rows are finite");
  std::vector<double> group_sd(static_cast<size_t>(p.groups), std::sqrt(p.y.squaredNorm() / p.y.size() + 1e-300));
  Solved solved;
  VectorXd residual;
  const Held known = held(p);
  const int passes = p.refresh ? kRefreshedPasses : kPasses;
  for (int pass = 0; pass < passes; ++pass) {
    solved = weighted_solve(p, row_weights(p, group_sd), known);
    const VectorXd predicted = p.a * solved.x;
    residual = p.y - predicted;
    group_sd = spreads(p, residual);
    if (p.refresh && pass + 1 < passes) p.refresh(p.a, predicted);
  }
  const VectorXd w = row_weights(p, group_sd);
  if (!solved.x.allFinite() || !solved.inverse_normal.allFinite()) {
    out.reason = "the equations have no finite solution: unknowns without data and without papers";
    return out;
  }
  const MatrixXd middle =
      cluster_scores(p, w, residual, 0, p.y.size(), out.clusters) + prior_normal(p) + known.spread;
  out.covariance = stated_covariance(solved.inverse_normal, middle);
  out.x = solved.x;
  out.group_sd = group_sd;
  out.condition = data_condition(p, w);
  retell(out, p.prior_sd);
  out.done = true;
  out.reason.clear();
  return out;
}

void retell(RegressionResult& result, const std::vector<double>& prior_sd) {
  result.from_data.assign(prior_sd.size(), 1.0);
  for (size_t j = 0; j < prior_sd.size(); ++j) {
    if (!std::isfinite(prior_sd[j])) continue;
    const Index at = static_cast<Index>(j);
    result.from_data[j] = std::clamp(1 - result.covariance(at, at) / (prior_sd[j] * prior_sd[j]), 0.0, 1.0);
  }
}

}  // namespace evenbeam::identification
