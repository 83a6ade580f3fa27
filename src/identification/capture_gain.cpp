#include "identification/capture_gain.h"

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>

#include "identification/grey_problem.h"
#include "identification/motion_restated.h"
#include "identification/row_sums.h"

namespace evenbeam::identification {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using recording::Recording;

// Diagonal of (J'J)^-1 at the fitted plant.
VectorXd parameter_variances(const GreyProblem& problem, const VectorXd& x) {
  VectorXd r;
  MatrixXd jacobian;
  problem(x, r, &jacobian);
  const VectorXd scale = jacobian.colwise().norm().cwiseMax(1e-300);
  const MatrixXd scaled = jacobian * scale.cwiseInverse().asDiagonal();
  const VectorXd inverse = MatrixXd(scaled.transpose() * scaled).inverse().diagonal();
  return inverse.cwiseQuotient(scale.cwiseAbs2());
}

std::vector<GreyLine> lines_of(const signal::Response& response, double hold_s, double to_hz) {
  std::vector<GreyLine> lines = choose_lines(response, hold_s).used;
  if (to_hz > 0) std::erase_if(lines, [&](const GreyLine& line) { return line.hz > to_hz; });
  return lines;
}

// Root of mean square over captures of one kind, over all where none of it was made.
double usual(const std::vector<double>& sd, const std::vector<Recording>& recordings, recording::RunKind kind) {
  double of_kind = 0, all = 0, kinds = 0, count = 0;
  for (size_t k = 0; k < sd.size(); ++k) {
    if (!(sd[k] > 0)) continue;
    all += sd[k] * sd[k], ++count;
    if (recordings[k].kind == kind) of_kind += sd[k] * sd[k], ++kinds;
  }
  return kinds > 0 ? std::sqrt(of_kind / kinds) : count > 0 ? std::sqrt(all / count) : 1;
}

// `more` - `less`, without the directions along which that is no covariance; variances as they differ, none below
// zero. Unknowns differ in unit, so by their sizes in `more`.
MatrixXd beyond(const MatrixXd& more, const MatrixXd& less) {
  const VectorXd size = more.diagonal().cwiseMax(1e-300).cwiseSqrt();
  const MatrixXd scaled = size.cwiseInverse().asDiagonal() * (more - less) * size.cwiseInverse().asDiagonal();
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver((scaled + scaled.transpose()) / 2);
  MatrixXd out =
      solver.eigenvectors() * solver.eigenvalues().cwiseMax(0).asDiagonal() * solver.eigenvectors().transpose();
  VectorXd fit(size.size());
  for (Index j = 0; j < fit.size(); ++j)
    fit[j] = out(j, j) > 0 ? size[j] * std::sqrt(std::clamp(scaled(j, j) / out(j, j), 0.0, 1.0)) : 0;
  return fit.asDiagonal() * out * fit.asDiagonal();
}

// What rows are named and placed by, where the motion itself is known.
Recording without_samples(const Recording& r) {
  return {.name = r.name,
          .kind = r.kind,
          .period_s = r.period_s,
          .carriage_y_m = r.carriage_y_m,
          .payload_kg = r.payload_kg,
          .switch_on = r.switch_on};
}

}  // namespace

CaptureGain::CaptureGain(const Identified& now, const std::vector<Recording>& recordings,
                         const machine::Machine& machine)
    : now_(now), recordings_(recordings), machine_(machine) {
  motions_ = local_motions(recordings, now.motion.bandwidth_hz);
  rows_ = motion_rows(recordings, machine, now.motion.bandwidth_hz, motions_);
  if (now.grey.done) hold_to_response(rows_.regression, now.grey.knowledge, machine.span_m);
  solved_ = solve(rows_.regression);
  sum_sd_.assign(recordings.size(), 0);
  fight_sd_.assign(recordings.size(), 0);
  if (!solved_.done) return;
  for (int k : rows_.recording) {
    const auto at = static_cast<size_t>(k);
    sum_sd_[at] = solved_.group_sd[2 * at], fight_sd_[at] = solved_.group_sd[2 * at + 1];
  }
}

GreyFit CaptureGain::grey_after(double response_gain) const {
  GreyFit out = now_.grey;
  if (!out.done || !(response_gain > 0)) return out;
  signal::Response better = now_.response;
  for (auto& line : better.covariance)
    for (auto& entry : line) entry /= 1 + response_gain;
  const double hold_s = machine_.servo_period_s.value_or(0), to_hz = out.left_above_hz > 0 ? out.hz.back() : 0;
  const GreyPrior prior = grey_prior(out.plant, now_.motion, machine_);
  const GreyProblem before(out.plant, lines_of(now_.response, hold_s, to_hz), prior, hold_s),
      then(out.plant, lines_of(better, hold_s, to_hz), prior, hold_s);
  const VectorXd x = grey_parameters(out.plant).head(before.count());
  const VectorXd narrower = parameter_variances(then, x)
                                .cwiseQuotient(parameter_variances(before, x))
                                .cwiseSqrt()
                                .cwiseMin(1.0);  // lines chosen anew may be others; more data tells no less
  if (!narrower.allFinite()) return out;
  out.covariance = narrower.asDiagonal() * out.covariance * narrower.asDiagonal();
  for (size_t j = 0; j < out.parameters.size(); ++j) {
    math::Estimate& e = out.parameters[j];
    e = math::with_sd(e.value, e.sd * narrower[static_cast<Index>(j)], e.from_data);
  }
  out.knowledge = response_knowledge(before, x, out.covariance);
  return out;
}

Identified CaptureGain::after(const ForeseenCapture& capture) const {
  Identified out = now_;
  out.grey = grey_after(capture.response_gain);
  if (!solved_.done) return out;
  std::vector<Recording> all;
  for (const Recording& r : recordings_) all.push_back(without_samples(r));
  all.insert(all.end(), capture.rows.begin(), capture.rows.end());
  MotionRows joint = motion_rows(all, machine_, now_.motion.bandwidth_hz, motions_);
  Regression& p = joint.regression;
  VectorXd x = VectorXd::Zero(p.a.cols());  // a zero of a new switch-on is not known yet, and its value is no matter
  x.head(solved_.x.size()) = solved_.x;
  VectorXd weights(p.y.size());
  Index first_new = p.y.size();
  for (Index i = 0; i < weights.size(); ++i) {
    const auto k = static_cast<size_t>(joint.recording[static_cast<size_t>(i)]);
    const bool fight = i % 2 != 0;
    if (k >= recordings_.size()) {
      first_new = std::min(first_new, i);
      weights[i] = 1 / usual(fight ? fight_sd_ : sum_sd_, recordings_, all[k].kind);
    } else {
      weights[i] = 1 / solved_.group_sd[2 * k + (fight ? 1 : 0)];
    }
  }
  p.refresh(p.a, p.a * x);
  RowSums sums = row_sums(p, weights, x, 0, first_new);
  const MatrixXd added = row_sums(p, weights, x, first_new, p.y.size()).normal;
  VectorXd together(x.size());
  for (Index j = 0; j < x.size(); ++j)
    together[j] = sums.normal(j, j) > 0 ? std::sqrt(sums.scores(j, j) / sums.normal(j, j)) : 1;
  if (now_.grey.done) hold_to_response(p, out.grey.knowledge, machine_.span_m);
  const MatrixXd expected = covariance_from_sums(
      p, sums.normal + added, sums.scores + MatrixXd(together.asDiagonal() * added * together.asDiagonal()));
  // Both by sums, so that what the two ways of solving differ in does not pass for a gain.
  const Index n = solved_.x.size();
  const MatrixXd present =
      covariance_from_sums(rows_.regression, sums.normal.topLeftCorner(n, n), sums.scores.topLeftCorner(n, n));
  const MatrixXd covariance = expected.topLeftCorner(n, n) + beyond(now_.motion.covariance, present);
  out.motion = with_covariance(now_.motion, rows_, covariance, machine_.span_m);
  return out;
}

}  // namespace evenbeam::identification
