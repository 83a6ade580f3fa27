#include "identification/motion_instruments.h"

#include <Eigen/LU>
#include <Eigen/QR>
#include <array>
#include <cmath>
#include <map>

namespace evenbeam::identification {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr std::array<Unknown, 5> kSkewColumns{kInertia0, kStiffness, kDamping, kLagInertia, kFlexInertia};
constexpr Index kInstruments = 6;
constexpr size_t kLeastRows = 24;  // of a recording: four an instrument

// Rows of each recording: the mean's equation stands in row i, the fight's in row i + 1.
std::map<int, std::vector<Index>> by_recording(const MotionRows& rows) {
  std::map<int, std::vector<Index>> out;
  for (size_t i = 0; i + 1 < rows.recording.size(); i += 2) out[rows.recording[i]].push_back(static_cast<Index>(i));
  return out;
}

MatrixXd instruments(const MatrixXd& a, const std::vector<Index>& rows) {
  MatrixXd z(static_cast<Index>(rows.size()), kInstruments);
  for (size_t k = 0; k < rows.size(); ++k) {
    const Index i = rows[k];
    z.row(static_cast<Index>(k)) << 1, a(i, kViscousA) + a(i, kViscousB), a(i, kMass0), a(i, kLagMass),
        a(i, kFlexMass), a(i, kCoulombA) + a(i, kCoulombB);
  }
  const VectorXd scale = z.colwise().norm().cwiseMax(1e-300);
  return z * scale.cwiseInverse().asDiagonal();
}

// A with the skew's columns as the mean motion foretells them.
MatrixXd foretold(const MotionRows& rows, const MatrixXd& a) {
  MatrixXd out = a;
  for (const auto& [recording, list] : by_recording(rows)) {
    const MatrixXd z = instruments(a, list);
    MatrixXd skew(z.rows(), static_cast<Index>(kSkewColumns.size()));
    for (size_t k = 0; k < list.size(); ++k)
      for (size_t j = 0; j < kSkewColumns.size(); ++j)
        skew(static_cast<Index>(k), static_cast<Index>(j)) = a(list[k] + 1, kSkewColumns[j]);
    MatrixXd by_mean = MatrixXd::Zero(skew.rows(), skew.cols());
    if (list.size() >= kLeastRows) by_mean = z * z.colPivHouseholderQr().solve(skew);
    for (size_t k = 0; k < list.size(); ++k)
      for (size_t j = 0; j < kSkewColumns.size(); ++j)
        out(list[k] + 1, kSkewColumns[j]) = by_mean(static_cast<Index>(k), static_cast<Index>(j));
  }
  return out;
}

MatrixXd scores(const Regression& p, const MatrixXd& by_mean, const VectorXd& weight, const VectorXd& residual) {
  const Index n = by_mean.cols();
  MatrixXd sum = MatrixXd::Zero(n, n);
  VectorXd score = VectorXd::Zero(n);
  double clusters = 0;
  for (Index i = 0; i < residual.size(); ++i) {
    score += weight[i] * weight[i] * residual[i] * by_mean.row(i).transpose();
    const size_t at = static_cast<size_t>(i);
    if (i + 1 < residual.size() && p.cluster[at + 1] == p.cluster[at]) continue;
    sum += score * score.transpose();
    score.setZero();
    ++clusters;
  }
  return clusters > 1 ? MatrixXd(sum * (clusters / (clusters - 1))) : sum;
}

}  // namespace

InstrumentResult solve_by_instruments(const MotionRows& rows, const RegressionResult& ordinary) {
  const Regression& p = rows.regression;
  MatrixXd a = p.a;
  if (p.refresh) p.refresh(a, p.a * ordinary.x);
  const Index n = a.cols();
  VectorXd weight(p.y.size());
  for (Index i = 0; i < weight.size(); ++i)
    weight[i] = 1 / ordinary.group_sd[static_cast<size_t>(p.group[static_cast<size_t>(i)])];
  const VectorXd squared = weight.cwiseAbs2();
  const MatrixXd by_mean = foretold(rows, a);
  MatrixXd normal = by_mean.transpose() * squared.asDiagonal() * a;
  VectorXd right = by_mean.transpose() * squared.asDiagonal() * p.y;
  MatrixXd prior = MatrixXd::Zero(n, n);
  for (Index j = 0; j < n; ++j) {
    const double sd = p.prior_sd[static_cast<size_t>(j)];
    if (!std::isfinite(sd)) continue;
    prior(j, j) = 1 / (sd * sd);
    right[j] += p.prior_mean[static_cast<size_t>(j)] / (sd * sd);
  }
  normal += prior;
  VectorXd scale = normal.diagonal().cwiseAbs().cwiseMax(1e-300).cwiseSqrt();
  const MatrixXd scaled = scale.cwiseInverse().asDiagonal() * normal * scale.cwiseInverse().asDiagonal();
  const MatrixXd inverse =
      scale.cwiseInverse().asDiagonal() * MatrixXd(scaled.fullPivLu().inverse()) * scale.cwiseInverse().asDiagonal();
  InstrumentResult out;
  out.x = inverse * right;
  out.covariance = inverse * (scores(p, by_mean, weight, p.y - a * out.x) + prior) * inverse.transpose();
  out.done = out.x.allFinite() && out.covariance.allFinite();
  return out;
}

}  // namespace evenbeam::identification
