#include "identification/motion_doubt.h"

#include <algorithm>
#include <cmath>

#include "identification/motion_instruments.h"

namespace evenbeam::identification {
namespace {

// The law is coarser than the machine (bristles, Stribeck, ripple, sampling): never better known than this part.
// Measured on random machines by checks/coverage; docs/fit-coverage.md.
constexpr double kCoarse = 5e-4;
constexpr double kNarrow_hz = 8;  // a window's bandwidth below which the floor grows; from the same machines

// Of the machines of checks/coverage whose response no plant followed, the worst lay four standard uncertainties off.
constexpr double kDistrust = 4;

// Where more of the fight by skew is unexplained than explained, its numbers are no answer: a stiffness near zero
// would come with an interval as narrow.
constexpr double kUntold = 0.5;

}  // namespace

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

void distrust_fight(RegressionResult& r) {
  Eigen::VectorXd widen = Eigen::VectorXd::Ones(r.x.size());
  for (Unknown j : {kMoment0, kInertia0, kStiffness, kDamping, kImbalance}) widen[j] = kDistrust;
  r.covariance = widen.asDiagonal() * r.covariance * widen.asDiagonal();
}

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

}  // namespace evenbeam::identification
