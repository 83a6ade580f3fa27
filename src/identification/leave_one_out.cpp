#include "identification/leave_one_out.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <map>

namespace evenbeam::identification {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// One part of the equations: normal matrix, right side, and the squares of the cluster scores.
struct Part {
  MatrixXd normal, scores;
  VectorXd right;
  explicit Part(Index n) : normal(MatrixXd::Zero(n, n)), scores(MatrixXd::Zero(n, n)), right(VectorXd::Zero(n)) {}
};

struct Capture {
  Index from = 0, to = 0;  // its rows
  double own[2] = {0, 0};  // residual of both equations in the fit of all
};

std::map<int, Capture> captures_of(const MotionRows& rows, const MotionFit& fit,
                                   const std::vector<recording::Recording>& recordings) {
  std::map<int, Capture> out;
  for (size_t i = 0; i < rows.recording.size(); ++i) {
    Capture& c = out.try_emplace(rows.recording[i], Capture{static_cast<Index>(i), 0, {0, 0}}).first->second;
    c.to = static_cast<Index>(i) + 1;
  }
  for (auto& [k, capture] : out)
    for (const RecordingUse& use : fit.recordings)
      if (use.name == recordings[static_cast<size_t>(k)].name)
        capture.own[0] = use.residual_mean_n, capture.own[1] = use.residual_fight_n;
  return out;
}

Part part_of(const Regression& p, const VectorXd& x, const Capture& c) {
  Part out(p.a.cols());
  MatrixXd a = p.a.middleRows(c.from, c.to - c.from);
  VectorXd y = p.y.segment(c.from, c.to - c.from);
  for (Index i = 0; i < y.size(); ++i) {
    const double by = 1 / std::max(c.own[p.group[static_cast<size_t>(c.from + i)] % 2], 1e-300);
    a.row(i) *= by;
    y[i] *= by;
  }
  out.normal.noalias() = a.transpose() * a;
  out.right.noalias() = a.transpose() * y;
  const VectorXd residual = y - a * x;
  VectorXd score = VectorXd::Zero(p.a.cols());
  for (Index i = 0; i < y.size(); ++i) {
    score += residual[i] * a.row(i).transpose();
    const size_t at = static_cast<size_t>(c.from + i);
    if (i + 1 < y.size() && p.cluster[at + 1] == p.cluster[at]) continue;
    out.scores += score * score.transpose();
    score.setZero();
  }
  return out;
}

// Papers, and what the response has told (held tighter in the solution, its covariance carried on in full).
Part known_part(const Regression& p) {
  Part out(p.a.cols());
  for (Index j = 0; j < p.a.cols(); ++j) {
    const double sd = p.prior_sd[static_cast<size_t>(j)];
    if (!std::isfinite(sd)) continue;
    out.normal(j, j) = 1 / (sd * sd);
    out.right[j] = p.prior_mean[static_cast<size_t>(j)] / (sd * sd);
  }
  out.scores = out.normal;
  if (p.known_value.size() == 0) return out;
  const double trust = p.known_trust * p.known_trust;
  const Eigen::LLT<MatrixXd> root(p.known_covariance);
  const MatrixXd by = root.solve(p.known_rows);
  const MatrixXd square = p.known_rows.transpose() * by;
  out.normal += trust * square;
  out.right += trust * by.transpose() * p.known_value;
  out.scores += trust * trust * square;
  return out;
}

struct Others {
  VectorXd x;
  MatrixXd covariance;
  std::vector<bool> untold;  // columns that only the capture left out fills
};

Others solved_without(const Part& whole, const Part& left_out) {
  Others out;
  MatrixXd normal = whole.normal - left_out.normal;
  const Index n = normal.rows();
  out.untold.assign(static_cast<size_t>(n), false);
  for (Index j = kFixedCount; j < n; ++j) {
    if (normal(j, j) > 1e-9 * whole.normal(j, j)) continue;
    out.untold[static_cast<size_t>(j)] = true;
    normal.row(j).setZero();
    normal.col(j).setZero();
    normal(j, j) = 1;
  }
  const VectorXd scale = normal.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  const MatrixXd even = scale.asDiagonal() * normal * scale.asDiagonal();
  const Eigen::LDLT<MatrixXd> root(even);
  out.x = scale.cwiseProduct(root.solve(scale.cwiseProduct(whole.right - left_out.right)));
  const MatrixXd inverse = scale.asDiagonal() * root.solve(MatrixXd::Identity(n, n)) * MatrixXd(scale.asDiagonal());
  const MatrixXd middle = whole.scores - left_out.scores;
  out.covariance = inverse * middle * inverse.transpose();
  return out;
}

double mean_square(const std::vector<double>& x) {
  double sum = 0;
  for (double v : x) sum += v * v;
  return sum / std::max(1.0, static_cast<double>(x.size()));
}

double mean_of(const std::vector<double>& x) {
  double sum = 0;
  for (double v : x) sum += v;
  return sum / std::max(1.0, static_cast<double>(x.size()));
}

// Errors of one equation, by direction of travel.
struct Errors {
  std::vector<double> all, measured, way[2];
  double foreseen = 0;  // sum over the rows of a' C a

  void add(double error, double value, bool forward, double variance) {
    all.push_back(error);
    measured.push_back(value);
    way[forward ? 1 : 0].push_back(error);
    foreseen += variance;
  }
  void take_out_mean() {
    const double mean = mean_of(all);
    for (auto* part : {&all, &way[0], &way[1]})
      for (double& e : *part) e -= mean;
  }
  // Mean square about the mean of each way.
  double scatter() const {
    double sum = 0;
    for (const auto& part : way)
      sum += (mean_square(part) - std::pow(mean_of(part), 2)) * static_cast<double>(part.size());
    return std::max(0.0, sum) / static_cast<double>(all.size());
  }
  double error() const { return std::sqrt(mean_square(all)); }
  double expected() const { return std::sqrt(std::max(0.0, foreseen) / static_cast<double>(all.size()) + scatter()); }
};

// The capture's rows by the numbers of the others.
HeldOutCapture foretold(const MotionRows& rows, const Regression& p, const Capture& capture, const Others& others) {
  Errors sum, fight;
  bool own_zero = false;
  for (Index i = capture.from; i < capture.to; ++i) {
    VectorXd row = p.a.row(i);
    for (Index j = kFixedCount; j < row.size(); ++j)
      if (others.untold[static_cast<size_t>(j)] && row[j] != 0) own_zero = true, row[j] = 0;
    Errors& errors = p.group[static_cast<size_t>(i)] % 2 == 0 ? sum : fight;
    errors.add(p.y[i] - row.dot(others.x), p.y[i], row[kCoulombA] > 0, row.dot(others.covariance * row));
  }
  if (own_zero) fight.take_out_mean();
  return {.from_s = rows.time_s[static_cast<size_t>(capture.from)],
          .to_s = rows.time_s[static_cast<size_t>(capture.to - 1)],
          .rows = static_cast<int>(sum.all.size()),
          .sum_error_n = sum.error(),
          .sum_expected_n = sum.expected(),
          .fight_error_n = fight.error(),
          .fight_expected_n = fight.expected(),
          .sum_n = std::sqrt(mean_square(sum.measured)),
          .fight_n = std::sqrt(mean_square(fight.measured))};
}

}  // namespace

double times_expected(const HeldOutCapture& c) {
  return std::max(c.sum_error_n / std::max(c.sum_expected_n, 1e-300),
                  c.fight_error_n / std::max(c.fight_expected_n, 1e-300));
}

std::vector<HeldOutCapture> leave_one_capture_out(const MotionRows& rows, const MotionFit& fit,
                                                  const std::vector<recording::Recording>& recordings,
                                                  const ResponseKnowledge& response, double span_m, int least_rows) {
  std::vector<HeldOutCapture> out;
  const std::map<int, Capture> captures = captures_of(rows, fit, recordings);
  if (captures.size() < 2 || fit.x.size() != rows.regression.a.cols()) return out;
  Regression p = rows.regression;
  if (response.known) hold_to_response(p, response, span_m);
  if (p.refresh) p.refresh(p.a, p.a * fit.x);
  std::map<int, Part> parts;
  Part whole = known_part(p);
  for (const auto& [k, capture] : captures) {
    const Part& part = parts.emplace(k, part_of(p, fit.x, capture)).first->second;
    whole.normal += part.normal, whole.scores += part.scores, whole.right += part.right;
  }
  for (const auto& [k, capture] : captures) {
    if (capture.to - capture.from < 2 * least_rows) continue;
    const Others others = solved_without(whole, parts.at(k));
    if (!others.x.allFinite() || !others.covariance.allFinite()) continue;
    out.push_back(foretold(rows, p, capture, others));
    out.back().recording = recordings[static_cast<size_t>(k)].name;
  }
  return out;
}

}  // namespace evenbeam::identification
