#include "identification/motion_fit.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.h"
#include "identification/motion_doubt.h"
#include "identification/motion_restated.h"
#include "identification/motion_rows.h"

namespace evenbeam::identification {
namespace {

using math::Estimate;
using math::with_sd;

// Windows tried, narrow to wide. A wide one knows more but lets drive and bending modes in, which biases it. Taken is
// the window below the widest whose answers still agree with all narrower ones: Lepski 1991, the balancing principle
// (from memory), with one step in hand.
constexpr std::array<double, 11> kBandwidths_hz{4, 5, 6, 8, 10, 12, 15, 20, 30, 45, 70};
// Rows of these and narrower windows are made once for both fits; of wider ones, which few machines reach and which
// hold three quarters of all rows, when a fit gets there.
constexpr double kAtOnce_hz = 15;
constexpr Eigen::Index kLeastRows = 40;  // with wide priors beneath, fewer would only repeat the papers
constexpr double kAgree = 3;             // standard uncertainties of the narrower window

// How far two windows may differ without harm, whatever their standard uncertainties say: of the size of each
// unknown. Inertia and damping are not asked: narrow windows hardly see them (widen_by_windows).
bool agrees(const RegressionResult& narrow, const RegressionResult& wide) {
  const Eigen::VectorXd& x = narrow.x;
  const double mass = std::abs(x[kMass0]) + std::abs(x[kCarriage]);
  const double friction = std::abs(x[kCoulombA]) + std::abs(x[kCoulombB]);
  const double viscous = std::abs(x[kViscousA]) + std::abs(x[kViscousB]);
  const std::pair<Unknown, double> allowed[] = {
      {kMass0, 2e-3 * mass},       {kCarriage, 2e-3 * mass},     {kMoment0, 1e-3 * mass},
      {kImbalance, 3e-3},          {kCoulombA, 1e-2 * friction}, {kCoulombB, 1e-2 * friction},
      {kViscousA, 2e-2 * viscous}, {kViscousB, 2e-2 * viscous},  {kStiffness, 1e-2 * std::abs(x[kStiffness])}};
  for (const auto& [j, harmless] : allowed)
    if (std::abs(wide.x[j] - x[j]) > kAgree * std::sqrt(narrow.covariance(j, j)) + harmless) return false;
  const double sum_sd =
      std::sqrt(std::max(0.0, narrow.covariance(kMass0, kMass0) + 2 * narrow.covariance(kMass0, kCarriage) +
                                  narrow.covariance(kCarriage, kCarriage)));
  const double step = wide.x[kMass0] + wide.x[kCarriage] - x[kMass0] - x[kCarriage];
  return std::abs(step) <= kAgree * sum_sd + 1e-3 * mass;
}

// Adds the window's attempt; false where it contradicts a narrower one.
bool add_attempt(std::vector<Attempt>& out, MotionRows rows, const ResponseKnowledge& response, double span) {
  Attempt attempt{std::move(rows), {}, 0};
  attempt.bandwidth_hz = attempt.rows.bandwidth_hz;
  if (response.known) hold_to_response(attempt.rows.regression, response, span);
  attempt.result = solve(attempt.rows.regression);
  if (!attempt.result.done) return true;
  widen_by_disturbance(attempt, response.known);
  for (const Attempt& narrower : out)
    if (!agrees(narrower.result, attempt.result)) return false;
  out.push_back(std::move(attempt));
  return true;
}

std::vector<Attempt> agreeing_attempts(const MotionWindows& windows,
                                       const std::vector<recording::Recording>& recordings,
                                       const machine::Machine& machine, const ResponseKnowledge& response) {
  std::vector<Attempt> out;
  for (const MotionRows& rows : windows.rows)
    if (!add_attempt(out, rows, response, machine.span_m)) return out;
  for (double bandwidth_hz : kBandwidths_hz) {
    if (bandwidth_hz <= kAtOnce_hz) continue;
    MotionRows rows = motion_rows(recordings, machine, bandwidth_hz);
    if (rows.regression.y.size() < kLeastRows) continue;
    if (!add_attempt(out, std::move(rows), response, machine.span_m)) return out;
  }
  return out;
}

Estimate pick(const RegressionResult& r, Eigen::Index j, double factor = 1) {
  return with_sd(factor * r.x[j], std::abs(factor) * std::sqrt(r.covariance(j, j)),
                 r.from_data[static_cast<size_t>(j)]);
}

// value and first-order variance of g'x
Estimate linear(const Eigen::VectorXd& x, const Eigen::MatrixXd& covariance, const Eigen::VectorXd& g,
                double from_data = 1) {
  return with_sd(g.dot(x), std::sqrt(std::max(0.0, g.dot(covariance * g))), from_data);
}

Estimate combined(const RegressionResult& r, std::initializer_list<std::pair<Unknown, double>> parts) {
  Eigen::VectorXd g = Eigen::VectorXd::Zero(r.x.size());
  double from_data = 1;
  for (const auto& [j, factor] : parts) {
    g[j] = factor;
    if (j != kCarriage) from_data = std::min(from_data, r.from_data[j]);
  }
  return linear(r.x, r.covariance, g, from_data);
}

std::vector<RecordingUse> uses(const MotionRows& rows, const RegressionResult& result,
                               const std::vector<recording::Recording>& recordings) {
  std::vector<RecordingUse> out;
  for (size_t i = 0; i < rows.recording.size(); ++i) {
    const size_t k = static_cast<size_t>(rows.recording[i]);
    if (out.empty() || out.back().name != recordings[k].name) {
      out.push_back({recordings[k].name, rows.time_s[i], rows.time_s[i], 0, result.group_sd[2 * k],
                     result.group_sd[2 * k + 1]});
    }
    out.back().to_s = rows.time_s[i];
    ++out.back().rows;
  }
  return out;
}

void fill_estimates(MotionFit& fit, const MotionRows& rows, const RegressionResult& r, double span) {
  const double y = rows.reference_y_m;
  fit.mass_kg = combined(r, {{kMass0, 1.0}, {kCarriage, 1.0}});
  fit.moment_kg_m = combined(r, {{kMoment0, span}, {kCarriage, y}});
  fit.inertia_kg_m2 = combined(r, {{kInertia0, span * span}, {kCarriage, y * y}});
  fit.yaw_stiffness_n_m_per_rad = pick(r, kStiffness, span * span);
  fit.yaw_damping_n_m_s_per_rad = pick(r, kDamping, span * span);
  fit.coulomb_a_n = pick(r, kCoulombA);
  fit.coulomb_b_n = pick(r, kCoulombB);
  fit.viscous_a_n_s_per_m = pick(r, kViscousA);
  fit.viscous_b_n_s_per_m = pick(r, kViscousB);
  fit.force_imbalance = pick(r, kImbalance);
  const double e = fit.force_imbalance.value;
  fit.gain_ratio_b_to_a =
      with_sd((1 - e) / (1 + e), 2 * fit.force_imbalance.sd / ((1 + e) * (1 + e)), fit.force_imbalance.from_data);
  fit.carriage_mass_kg = pick(r, kCarriage);
  if (rows.payload_varied) fit.payload_scale = pick(r, kPayloadScale);
  fit.lag_s = with_sd(r.x[kLagMass] / fit.mass_kg.value,
                      std::sqrt(r.covariance(kLagMass, kLagMass)) / fit.mass_kg.value, r.from_data[kLagMass]);
  const double stiffness = r.x[kStiffness];
  fit.switch_ons.clear();
  for (size_t k = 0; k < rows.switch_ons.size(); ++k) {
    const Eigen::Index j = kFixedCount + static_cast<Eigen::Index>(k);
    Eigen::VectorXd g = Eigen::VectorXd::Zero(r.x.size());
    g[j] = 1 / stiffness;
    g[kStiffness] = -r.x[j] / (stiffness * stiffness);
    const double sd = std::sqrt(std::max(0.0, g.dot(r.covariance * g)));
    fit.switch_ons.push_back({rows.switch_ons[k], with_sd(r.x[j] / stiffness, sd)});
  }
  fit.x = r.x;
  fit.covariance = r.covariance;
}

void fill(MotionFit& fit, const Attempt& best, const std::vector<recording::Recording>& recordings, double span) {
  fit.bandwidth_hz = best.bandwidth_hz;
  fit.condition = best.result.condition;
  fit.recordings = uses(best.rows, best.result, recordings);
  fit.carriage_y_m = best.rows.reference_y_m;
  fit.carriage_known = best.rows.carriage_known;
  fit.names = unknown_names(best.rows.switch_ons);
  fill_estimates(fit, best.rows, best.result, span);
  fit.done = true;
  fit.reason.clear();
}

}  // namespace

MotionFit with_covariance(const MotionFit& fit, const MotionRows& rows, const Eigen::MatrixXd& covariance,
                          double span) {
  MotionFit out = fit;
  RegressionResult r;
  r.x = fit.x, r.covariance = covariance;
  retell(r, rows.regression.prior_sd);
  fill_estimates(out, rows, r, span);
  return out;
}

// The response's numbers as functions of the unknowns.
void hold_to_response(Regression& p, const ResponseKnowledge& response, double span) {
  const double y = response.carriage_y_m, kg = response.payload_kg;
  p.known_rows = Eigen::MatrixXd::Zero(5, p.a.cols());
  p.known_rows(0, kImbalance) = 1;
  p.known_rows(1, kMoment0) = span;
  p.known_rows(1, kCarriage) = y;
  p.known_rows(2, kInertia0) = span * span;
  p.known_rows(2, kCarriage) = y * y;
  p.known_rows(3, kStiffness) = span * span;
  p.known_rows(4, kDamping) = span * span;
  p.known_value = response.value;
  p.known_value[1] -= kg * y;  // the payload is no unknown's
  p.known_value[2] -= kg * y * y;
  p.known_covariance = response.covariance;
}

MotionWindows motion_windows(const std::vector<recording::Recording>& recordings, const machine::Machine& machine) {
  base::check(machine.span_m > 0, "the span is positive", {machine.span_m});
  MotionWindows out;
  for (double bandwidth_hz : kBandwidths_hz) {
    if (bandwidth_hz > kAtOnce_hz) break;
    MotionRows rows = motion_rows(recordings, machine, bandwidth_hz);
    if (rows.regression.y.size() >= kLeastRows) out.rows.push_back(std::move(rows));
  }
  for (const auto& r : recordings) out.payload_max_kg = std::max(out.payload_max_kg, r.payload_kg.value_or(0));
  return out;
}

MotionFit fit_motion(const MotionWindows& windows, const std::vector<recording::Recording>& recordings,
                     const machine::Machine& machine, const ResponseKnowledge& response) {
  MotionFit fit;
  std::vector<Attempt> attempts = agreeing_attempts(windows, recordings, machine, response);
  if (attempts.empty()) return fit;
  const size_t chosen = attempts.size() > 1 ? attempts.size() - 2 : 0;
  widen_by_windows(attempts, chosen, windows.payload_max_kg);
  if (!response.known) widen_by_instruments(attempts[chosen]);
  if (response.contradicts) distrust_fight(attempts[chosen].result);
  const Attempt& best = attempts[chosen];
  const double stiffness = best.result.x[kStiffness];
  if (stiffness < -2 * std::sqrt(best.result.covariance(kStiffness, kStiffness))) {
    fit.reason = "the yaw stiffness came out negative: sides swapped, or skews that don't share one zero";
    return fit;
  }
  fill(fit, best, recordings, machine.span_m);
  return fit;
}

MotionFit fit_motion(const std::vector<recording::Recording>& recordings, const machine::Machine& machine) {
  return fit_motion(motion_windows(recordings, machine), recordings, machine);
}

}  // namespace evenbeam::identification
