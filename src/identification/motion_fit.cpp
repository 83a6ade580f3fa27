#include "identification/motion_fit.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.h"
#include "identification/motion_instruments.h"
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

struct Attempt {
  MotionRows rows;
  RegressionResult result;
  double bandwidth_hz = 0;
  double disturbed = 0;  // part of the fight's variance by skew that stays unexplained
  // K/L^2 s_free of the row's switch-on
  double skew_offset(Eigen::Index row) const {
    double sum = 0;
    for (Eigen::Index j = kFixedCount; j < result.x.size(); ++j) sum -= rows.regression.a(row, j) * result.x[j];
    return sum;
  }
};

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

// Ripple and friction that the law does not know move the bridge; the skew they cause goes with them, and pulls
// every coefficient of the fight towards zero by about the part of the fight's variance that stays unexplained
// (errors in variables). That part times the coefficients joins the covariance, as one common factor.
void widen_by_disturbance(Attempt& attempt, bool response_known) {
  RegressionResult& r = attempt.result;
  const Regression& p = attempt.rows.regression;
  Eigen::VectorXd pull = Eigen::VectorXd::Zero(r.x.size());
  if (response_known) return;
  for (Unknown j : {kCarriage, kMoment0, kInertia0, kStiffness, kDamping, kPayloadScale}) pull[j] = r.x[j];
  pull[kMass0] = -pull[kCarriage];  // their sum is the mean equation's
  double unexplained = 0, explained = 0;
  for (Eigen::Index i = 1; i < p.y.size(); i += 2) {
    const double sd = r.group_sd[static_cast<size_t>(p.group[static_cast<size_t>(i)])];
    double by_skew = 0;
    for (Unknown j : {kInertia0, kStiffness, kDamping}) by_skew += p.a(i, j) * r.x[j];
    by_skew -= attempt.skew_offset(i);
    unexplained += std::pow((p.y[i] - p.a.row(i).dot(r.x)) / sd, 2);
    explained += std::pow(by_skew / sd, 2);
  }
  attempt.disturbed = unexplained / std::max(unexplained + explained, 1e-300);
  r.covariance += std::pow(attempt.disturbed, 2) * pull * pull.transpose();
}

// The law is coarser than the machine (bristles, Stribeck, ripple, sampling): never better known than this part.
// Measured on random machines by checks/coverage; docs/fit-coverage.md.
constexpr double kCoarse = 5e-4;
constexpr double kNarrow_hz = 8;  // a window's bandwidth below which the floor grows; from the same machines

// A response was measured and no plant follows it: something that is no force on record moves the skew, and then the
// fight's coefficients are pulled by more than their rows show. Of the machines of checks/coverage where this was so,
// the worst lay four standard uncertainties off.
constexpr double kDistrust = 4;

void distrust_fight(RegressionResult& r) {
  Eigen::VectorXd widen = Eigen::VectorXd::Ones(r.x.size());
  for (Unknown j : {kMoment0, kInertia0, kStiffness, kDamping, kImbalance}) widen[j] = kDistrust;
  r.covariance = widen.asDiagonal() * r.covariance * widen.asDiagonal();
}

// What the choice of window leaves open joins the uncertainty: the largest step to another agreeing window or the
// next wider one, as far as that window's own uncertainty does not explain it.
void widen_by_windows(std::vector<Attempt>& attempts, size_t chosen, double payload_kg) {
  RegressionResult& r = attempts[chosen].result;
  Eigen::VectorXd extra = Eigen::VectorXd::Zero(r.x.size());
  for (size_t k = 0; k < attempts.size() && k <= chosen + 1; ++k) {
    const RegressionResult& other = attempts[k].result;
    if (k == chosen || other.x.size() != r.x.size()) continue;
    for (Eigen::Index j = 0; j < r.x.size(); ++j)
      extra[j] = std::max(extra[j], std::abs(other.x[j] - r.x[j]) - std::sqrt(other.covariance(j, j)));
  }
  const double mass = std::abs(r.x[kMass0]) + std::abs(r.x[kCarriage]);
  extra[kMoment0] = std::hypot(extra[kMoment0], kCoarse * mass);
  extra[kCarriage] = std::hypot(extra[kCarriage], kCoarse * mass);
  if (payload_kg > 0) extra[kPayloadScale] = std::hypot(extra[kPayloadScale], kCoarse * mass / payload_kg);
  extra[kStiffness] = std::hypot(extra[kStiffness], 6 * kCoarse * r.x[kStiffness]);
  const double friction = std::abs(r.x[kCoulombA]) + std::abs(r.x[kCoulombB]);
  for (Eigen::Index j = kFixedCount; j < r.x.size(); ++j) extra[j] = std::hypot(extra[j], 3.5 * kCoarse * friction);
  Eigen::VectorXd widen(r.x.size());
  for (Eigen::Index j = 0; j < r.x.size(); ++j)
    widen[j] = std::sqrt(1 + extra[j] * extra[j] / std::max(r.covariance(j, j), 1e-300));
  r.covariance = widen.asDiagonal() * r.covariance * widen.asDiagonal();
  // The sum of both masses is known far better than either: its floor stands beside them, not as a factor on each.
  // A narrow window mixes ramps with standstill, whose friction is no law's.
  const double narrow = kNarrow_hz / attempts[chosen].bandwidth_hz;
  r.covariance(kMass0, kMass0) += std::pow(1.1 * kCoarse * mass, 2) * (1 + narrow * narrow);
}

// Where more of the fight by skew is unexplained than explained, its numbers are no answer: a stiffness near zero
// would come with an interval as narrow.
constexpr double kUntold = 0.5;

// Instruments are free of the loops' answer to what no force on record moves, but far coarser: the values stay those
// of least squares, and both uncertainties and the step between the two join, for each unknown and for what they
// share.
void widen_by_instruments(Attempt& attempt) {
  RegressionResult& r = attempt.result;
  const InstrumentResult other = solve_by_instruments(attempt.rows, r);
  if (!other.done) return;
  const Eigen::VectorXd step = other.x - r.x;
  r.covariance += other.covariance + step * step.transpose();
  retell(r, attempt.rows.regression.prior_sd);
  if (attempt.disturbed > kUntold)
    for (Unknown j : {kInertia0, kStiffness, kDamping}) r.from_data[j] = 0;
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
