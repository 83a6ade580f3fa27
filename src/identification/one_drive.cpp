#include "identification/one_drive.h"

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "identification/local_motion.h"
#include "identification/robust_regression.h"

namespace evenbeam::identification {
namespace {

using math::Estimate;
using recording::Recording;

enum Unknown { kMass, kCoulomb, kViscous, kOffset, kLag, kCount };

constexpr std::array<double, 5> kBandwidths_hz{6, 10, 16, 25, 40};
constexpr double kSlidingSpeed = 4e-3;     // m/s; below it pre-sliding rules. Common practice, no source
constexpr double kSlidingDirection = 0.9;  // the window must not hold a reversal
constexpr double kClusterWindows = 4;      // rows within so many windows may share an error
constexpr int kLeastRows = 30;
constexpr double kAgree = 3;            // standard uncertainties of the narrower window
constexpr double kPapersMass = 0.05;    // spread of a mass by the papers; common practice, no source
constexpr double kKnownMass = 0.2;      // relative standard uncertainty above which the mass is called untold
constexpr double kOtherWay = 0.1;       // part of the rows that must go the other way
constexpr double kKnownFriction = 0.5;  // the same of friction
// The law is coarser than the machine (bristles, ripple, a held output): nothing is known better than this part.
// Common practice, no source.
constexpr double kCoarse = 2e-3;
constexpr double kLargestTerm = 10;  // a term alone is at most so many times the largest output: the prior

// The side alone as a recording of both, so that it passes the same window as everything else.
std::optional<Recording> alone(const Recording& r, DriveSide side) {
  if (r.kind != recording::RunKind::one_side) return std::nullopt;
  const auto& position = side == DriveSide::a ? r.position_a_m : r.position_b_m;
  const auto& force = side == DriveSide::a ? r.force_a_n : r.force_b_n;
  if (position.empty() || force.empty()) return std::nullopt;
  double low = INFINITY, high = -INFINITY;
  for (double x : position)
    if (std::isfinite(x)) low = std::min(low, x), high = std::max(high, x);
  const double count = side == DriveSide::a ? r.count_a_m : r.count_b_m;
  if (!(high - low > std::max(1e-3, 8 * count))) return std::nullopt;  // the other side was the one that moved
  Recording out;
  out.name = r.name;
  out.period_s = r.period_s;
  out.time_s = r.time_s;
  out.position_a_m = out.position_b_m = position;
  out.force_a_n = out.force_b_n = force;
  return out;
}

struct Attempt {
  Regression regression;
  RegressionResult result;
  double bandwidth_hz = 0, from_s = 0, to_s = 0;
};

void add_rows(Attempt& attempt, std::vector<std::array<double, kCount + 1>>& rows, const Recording& r, int number) {
  const LocalMotion m = local_motion(r, {.bandwidth_hz = attempt.bandwidth_hz});
  double top = 0;
  for (double v : m.a[1]) top = std::max(top, std::abs(v));
  const double least = std::min(kSlidingSpeed, 0.15 * top);
  for (size_t i = 0; i < m.time_s.size(); ++i) {
    if (std::abs(m.a[1][i]) <= least || std::abs(m.direction_a[i]) <= kSlidingDirection) continue;
    rows.push_back({m.a[2][i], m.direction_a[i], m.a[1][i], 1, m.a[3][i], m.force_a_n[i]});
    attempt.regression.group.push_back(number);
    attempt.regression.cluster.push_back(number * 100000 + static_cast<int>((m.time_s[i] - m.time_s.front()) *
                                                                            attempt.bandwidth_hz / kClusterWindows));
    if (number > 0) continue;
    if (rows.size() == 1) attempt.from_s = m.time_s[i];
    attempt.to_s = m.time_s[i];
  }
}

Attempt attempt_at(const std::vector<Recording>& list, double bandwidth_hz) {
  Attempt out{.bandwidth_hz = bandwidth_hz};
  std::vector<std::array<double, kCount + 1>> rows;
  for (size_t k = 0; k < list.size(); ++k)
    if (bandwidth_hz * list[k].period_s <= 0.12) add_rows(out, rows, list[k], static_cast<int>(k));
  if (rows.size() < static_cast<size_t>(kLeastRows)) return out;
  Regression& p = out.regression;
  p.groups = static_cast<int>(list.size());
  p.a.resize(static_cast<Eigen::Index>(rows.size()), kCount);
  p.y.resize(p.a.rows());
  for (size_t i = 0; i < rows.size(); ++i) {
    const auto at = static_cast<Eigen::Index>(i);
    for (int j = 0; j < kCount; ++j) p.a(at, j) = rows[i][static_cast<size_t>(j)];
    p.y[at] = rows[i][kCount];
  }
  const double largest = std::max(p.y.cwiseAbs().maxCoeff(), 1e-9);
  for (int j = 0; j < kCount; ++j) {
    const double column = p.a.col(j).cwiseAbs().maxCoeff();
    p.prior_mean.push_back(0);
    p.prior_sd.push_back(column > 0 ? kLargestTerm * largest / column : 1e-9);
  }
  out.result = solve(p);
  return out;
}

double sd(const RegressionResult& r, Unknown j) { return std::sqrt(r.covariance(j, j)); }

// The window below the widest whose mass and friction still agree with all narrower ones.
std::optional<Attempt> best_attempt(const std::vector<Recording>& list) {
  std::vector<Attempt> agreeing;
  for (double bandwidth_hz : kBandwidths_hz) {
    Attempt next = attempt_at(list, bandwidth_hz);
    if (!next.result.done) continue;
    const bool agrees = std::all_of(agreeing.begin(), agreeing.end(), [&](const Attempt& narrow) {
      return std::abs(next.result.x[kMass] - narrow.result.x[kMass]) <=
                 kAgree * sd(narrow.result, kMass) + 0.005 * std::abs(narrow.result.x[kMass]) &&
             std::abs(next.result.x[kCoulomb] - narrow.result.x[kCoulomb]) <=
                 kAgree * sd(narrow.result, kCoulomb) + 0.01 * std::abs(narrow.result.x[kCoulomb]);
    });
    if (!agrees) break;
    agreeing.push_back(std::move(next));
  }
  if (agreeing.empty()) return std::nullopt;
  return agreeing[agreeing.size() > 1 ? agreeing.size() - 2 : 0];
}

// Largest |output| before the drive has moved by more than a few counts, where it rested at first.
std::optional<double> breakaway(const Recording& r, double count_m) {
  const double moved = std::max(20e-6, 4 * count_m);
  double largest = 0;
  const double start = r.position_a_m.front();
  for (size_t i = 0; i < r.position_a_m.size(); ++i) {
    if (std::abs(r.position_a_m[i] - start) > moved)
      return r.time_s[i] - r.time_s.front() > 0.05 && largest > 0 ? std::optional(largest) : std::nullopt;
    if (std::isfinite(r.force_a_n[i])) largest = std::max(largest, std::abs(r.force_a_n[i]));
  }
  return std::nullopt;
}

Estimate floored(const RegressionResult& r, Unknown j, double floor) {
  return math::with_sd(r.x[j], std::hypot(sd(r, j), floor), r.from_data[j]);
}

// Friction and offset are told apart by motion both ways only; what the smoothed direction says of them on one way is
// an artefact of the start of sliding.
bool both_ways(const Regression& p) {
  const auto rows = static_cast<double>(p.y.size());
  const double back = static_cast<double>((p.a.col(kCoulomb).array() < 0).count());
  return back > kOtherWay * rows && back < (1 - kOtherWay) * rows;
}

void read_out(OneDrive& out, const Attempt& best) {
  const RegressionResult& r = best.result;
  const double friction = std::abs(r.x[kCoulomb]);
  const Estimate mass = floored(r, kMass, kCoarse * std::abs(r.x[kMass]));
  const Estimate coulomb = floored(r, kCoulomb, 2 * kCoarse * friction);
  const Estimate viscous = floored(r, kViscous, kCoarse * std::abs(r.x[kViscous]));
  const Estimate offset = floored(r, kOffset, 2 * kCoarse * friction);
  if (mass.value > 0 && mass.sd < kKnownMass * mass.value)
    out.mass_kg = mass;
  else
    out.untold.push_back("mass: the capture holds too little acceleration; jog there and back with short ramps");
  if (coulomb.sd < kKnownFriction * std::abs(coulomb.value) && both_ways(best.regression))
    out.coulomb_n = coulomb, out.offset_n = offset;
  else
    out.untold.push_back("Coulomb friction and offset: jog both ways over the same stretch");
  if (viscous.sd < kKnownFriction * std::abs(viscous.value))
    out.viscous_n_s_per_m = viscous;
  else
    out.untold.push_back("viscous friction: jog at two speeds at least a factor of three apart");
  if (out.mass_kg) {
    const double lag = r.x[kLag] / mass.value;
    out.lag_s = math::with_sd(lag, sd(r, kLag) / mass.value, r.from_data[kLag]);
  }
}

}  // namespace

OneDrive one_drive(const std::vector<Recording>& recordings, const machine::Machine& machine, DriveSide side) {
  OneDrive out{.side = side};
  const machine::Side& papers = side == DriveSide::a ? machine.a : machine.b;
  out.papers_mass_kg = machine::reflected_mass_kg(papers);
  std::vector<Recording> list;
  for (const Recording& r : recordings)
    if (auto one = alone(r, side)) list.push_back(std::move(*one));
  if (list.empty()) return out;
  for (const Recording& r : list) out.recordings.push_back(r.name);
  const double count = papers.count_m.value_or(0);
  for (const Recording& r : list)
    if (const auto found = breakaway(r, count)) out.breakaway_n = std::max(out.breakaway_n.value_or(0), *found);
  const std::optional<Attempt> best = best_attempt(list);
  if (!best) {
    out.reason = "the drive slides for too short a time in its captures: jog it over 0.1 m or more, there and back";
    return out;
  }
  out.from_s = best->from_s;
  out.to_s = best->to_s;
  out.rows = static_cast<int>(best->regression.y.size());
  out.bandwidth_hz = best->bandwidth_hz;
  read_out(out, *best);
  if (out.mass_kg && out.papers_mass_kg) {
    const double ratio = *out.papers_mass_kg / out.mass_kg->value;
    out.force_scale = math::with_sd(ratio, ratio * std::hypot(kPapersMass, out.mass_kg->sd / out.mass_kg->value), 1);
  } else if (!out.papers_mass_kg) {
    out.untold.push_back("force scale: state drive_mass (or drive_inertia and lead) of this side in machine.toml");
  }
  out.done = true;
  out.reason.clear();
  return out;
}

std::optional<math::Estimate> gain_ratio_alone(const OneDrive& a, const OneDrive& b) {
  if (!a.force_scale || !b.force_scale) return std::nullopt;
  const double ratio = b.force_scale->value / a.force_scale->value;
  // Drives of one make share their papers' error; parts differ by about 1 % (common practice, no source).
  const bool alike = std::abs(*a.papers_mass_kg / *b.papers_mass_kg - 1) < 1e-6;
  const double papers = alike ? 0.01 : std::sqrt(2.0) * kPapersMass;
  const double fitted = std::hypot(a.mass_kg->sd / a.mass_kg->value, b.mass_kg->sd / b.mass_kg->value);
  return math::with_sd(ratio, ratio * std::hypot(papers, fitted), 1);
}

}  // namespace evenbeam::identification
