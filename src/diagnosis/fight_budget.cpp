#include "diagnosis/fight_budget.h"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>

#include "diagnosis/cause.h"
#include "identification/motion_rows.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

using identification::Unknown;

constexpr double kLeast_s = 0.1;     // a shorter phase tells nothing sure; common practice, no source
constexpr double kSettle_s = 0.15;   // left out after a change of speed; common practice, no source
constexpr std::size_t kBlocks = 10;  // of neighbouring samples, for the spread of a mean of coloured noise
constexpr double kLeftOut = 0.008;   // of the mean Coulomb friction, one sd: what the law leaves out (docs/causes.md)
constexpr double kOpposite = -0.9;   // correlation from which two parts are one
constexpr double kWide = 0.2;        // of the whole

struct Samples {
  std::vector<std::size_t> at;
};

// Which phase each sample belongs to: speed within half a percent of what it was a settling time ago.
std::vector<Samples> sort_samples(const recording::Recording& r, const recording::Motion& motion) {
  std::vector<Samples> out(3);
  const auto back = static_cast<std::size_t>(std::ceil(kSettle_s / r.period_s));
  const double top = motion.top_speed_m_per_s;
  for (std::size_t i = 1; i < r.time_s.size(); ++i) {
    if (!even_since(motion, i, back, 0.005)) continue;
    const double v = motion.speed_at(i);
    const bool finite = std::isfinite(r.force_a_n[i] + r.force_b_n[i] + r.position_a_m[i] + r.position_b_m[i]);
    if (!finite) continue;
    if (std::abs(v) <= 0.002 * top + 1e-6)
      out[0].at.push_back(i);
    else if (v > 0.05 * top)
      out[1].at.push_back(i);
    else if (v < -0.05 * top)
      out[2].at.push_back(i);
  }
  return out;
}

double block_sd(const recording::Recording& r, const Samples& s) {
  const std::size_t size = s.at.size() / kBlocks;
  double sum = 0, squares = 0;
  for (std::size_t b = 0; b < kBlocks; ++b) {
    double mean = 0;
    for (std::size_t i = b * size; i < (b + 1) * size; ++i)
      mean += (r.force_a_n[s.at[i]] - r.force_b_n[s.at[i]]) / 2 / static_cast<double>(size);
    sum += mean;
    squares += mean * mean;
  }
  const double n = static_cast<double>(kBlocks);
  return std::sqrt(std::max(0.0, squares - sum * sum / n) / (n - 1) / n);
}

PhaseMeans means_of(const recording::Recording& r, const recording::Motion& motion, Phase phase, const Samples& s) {
  PhaseMeans m{.phase = phase};
  const double n = static_cast<double>(s.at.size());
  double steps = 0;
  for (std::size_t k = 0; k < s.at.size(); ++k) {
    const std::size_t i = s.at[k];
    m.fight_n += (r.force_a_n[i] - r.force_b_n[i]) / 2 / n;
    m.sum_n += (r.force_a_n[i] + r.force_b_n[i]) / n;
    m.skew_m += (r.position_a_m[i] - r.position_b_m[i]) / n;
    m.speed_m_per_s += motion.speed_at(i) / n;
    if (k == 0 || s.at[k - 1] + 1 != i) continue;
    m.skew_rate_m_per_s += (r.position_a_m[i] - r.position_b_m[i]) - (r.position_a_m[i - 1] - r.position_b_m[i - 1]);
    ++steps;
  }
  m.skew_rate_m_per_s = steps > 0 ? m.skew_rate_m_per_s / (steps * r.period_s) : 0;
  m.seconds = n * r.period_s;
  m.from_s = r.time_s[s.at.front()];
  m.to_s = r.time_s[s.at.back()];
  m.fight_sd_n = block_sd(r, s);
  return m;
}

struct Direction {
  std::string name;
  Eigen::VectorXd g;
};

std::vector<Direction> directions(const PhaseMeans& m, Eigen::Index zero, Eigen::Index size) {
  const Eigen::VectorXd none = Eigen::VectorXd::Zero(size);
  std::vector<Direction> out(5, {"", none});
  out[0].name = "yaw spring";
  out[0].g[Unknown::kStiffness] = m.skew_m;
  out[0].g[zero] = -1;
  out[1].name = "yaw damping";
  out[1].g[Unknown::kDamping] = m.skew_rate_m_per_s;
  const double sign = m.phase == Phase::standing ? 0 : (m.phase == Phase::forward ? 1 : -1);
  out[2].name = "Coulomb friction";
  out[2].g[Unknown::kCoulombA] = sign / 2;
  out[2].g[Unknown::kCoulombB] = -sign / 2;
  out[3].name = "viscous friction";
  const double speed = m.phase == Phase::standing ? 0 : m.speed_m_per_s;
  out[3].g[Unknown::kViscousA] = speed / 2;
  out[3].g[Unknown::kViscousB] = -speed / 2;
  out[4].name = "force per output";
  out[4].g[Unknown::kImbalance] = -m.sum_n / 2;
  return out;
}

FightBudget budget_of(const PhaseMeans& m, Eigen::Index zero, const identification::MotionFit& fit) {
  FightBudget out{.means = m};
  const std::vector<Direction> all = directions(m, zero, fit.x.size());
  Eigen::VectorXd sum = Eigen::VectorXd::Zero(fit.x.size());
  std::vector<double> sd;
  const double left_out_n = kLeftOut * coulomb_mean(fit);
  for (const Direction& d : all) {
    sum += d.g;
    sd.push_back(std::sqrt(std::max(0.0, d.g.dot(fit.covariance * d.g))));
    const double left_n = &d == &all.front() ? left_out_n : 0;  // the spring takes it up, or the rest
    out.parts.push_back({d.name, math::with_sd(d.g.dot(fit.x), std::hypot(sd.back(), left_n))});
  }
  const double rest_variance =
      std::max(0.0, sum.dot(fit.covariance * sum)) + m.fight_sd_n * m.fight_sd_n + left_out_n * left_out_n;
  out.parts.push_back({"rest", math::with_sd(m.fight_n - sum.dot(fit.x), std::sqrt(rest_variance))});
  for (std::size_t i = 0; i < all.size(); ++i)
    for (std::size_t k = i + 1; k < all.size(); ++k) {
      if (1.96 * std::min(sd[i], sd[k]) < kWide * std::abs(m.fight_n) || sd[i] <= 0 || sd[k] <= 0) continue;
      if (all[i].g.dot(fit.covariance * all[k].g) < kOpposite * sd[i] * sd[k])
        out.inseparable.emplace_back(all[i].name, all[k].name);
    }
  return out;
}

}  // namespace

bool even_since(const recording::Motion& motion, std::size_t i, std::size_t back, double part) {
  const double change = motion.speed_at(i) - motion.speed_at(i > back ? i - back : 0);
  return !(std::abs(change) > part * motion.top_speed_m_per_s + 1e-6);
}

std::optional<std::ptrdiff_t> zero_of_skew(const identification::MotionFit& fit, const recording::Recording& r) {
  const std::string group = identification::switch_on_of(r);
  const auto zero = std::find_if(fit.switch_ons.begin(), fit.switch_ons.end(),
                                 [&](const identification::SwitchOn& s) { return s.name == group; });
  if (zero == fit.switch_ons.end()) return std::nullopt;
  return identification::kFixedCount + (zero - fit.switch_ons.begin());
}

std::string to_text(Phase phase) {
  if (phase == Phase::standing) return "standing";
  return phase == Phase::forward ? "moving forward at even speed" : "moving back at even speed";
}

std::vector<PhaseMeans> phases_of(const recording::Recording& r) {
  std::vector<PhaseMeans> out;
  if (!recording::has_forces(r) || !recording::has_positions(r) || !(r.period_s > 0) || r.time_s.size() < 2)
    return out;
  const recording::Motion motion = recording::motion_of(r);
  const std::vector<Samples> sorted = sort_samples(r, motion);
  for (std::size_t k = 0; k < sorted.size(); ++k) {
    const std::size_t least = std::max(static_cast<std::size_t>(kLeast_s / r.period_s), 2 * kBlocks);
    if (sorted[k].at.size() >= least) out.push_back(means_of(r, motion, static_cast<Phase>(k), sorted[k]));
  }
  return out;
}

std::vector<FightBudget> fight_budgets(const recording::Recording& r, const identification::MotionFit& fit) {
  std::vector<FightBudget> out;
  if (!fit.done) return out;
  const auto zero = zero_of_skew(fit, r);
  if (!zero) return out;
  for (const PhaseMeans& m : phases_of(r)) {
    out.push_back(budget_of(m, *zero, fit));
    out.back().recording = r.name;
  }
  return out;
}

}  // namespace evenbeam::diagnosis
