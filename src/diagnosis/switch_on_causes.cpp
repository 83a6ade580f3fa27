#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "diagnosis/criteria.h"
#include "identification/motion_rows.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kHeld = 2;     // times F_c L^2/K: all that friction holds, both ways; common practice, no source
constexpr double kFight = 0.5;  // of the mean Coulomb friction, held at servo-off; a proposal, no source
constexpr double kOff_s = 0.1;  // both outputs exactly zero so long: off; a proposal, no source
constexpr double kMean_s = 0.02;

struct Off {
  std::size_t from = 0, to = 0;
};

// The first stretch in which both outputs are zero after they were not.
Off off_of(const recording::Recording& r) {
  const auto least = static_cast<std::size_t>(std::ceil(kOff_s / r.period_s));
  const auto zero = [&](std::size_t k) { return r.force_a_n[k] == 0 && r.force_b_n[k] == 0; };
  for (std::size_t k = 1; k < r.time_s.size(); ++k) {
    if (!zero(k) || zero(k - 1)) continue;
    std::size_t to = k;
    while (to < r.time_s.size() && zero(to)) ++to;
    if (to - k >= least) return {k, to};
    k = to;
  }
  return {};
}

double mean_fight(const recording::Recording& r, std::size_t from, std::size_t to) {
  double sum = 0, n = 0;
  for (std::size_t k = from; k < to; ++k) sum += (r.force_a_n[k] - r.force_b_n[k]) / 2, n += 1;
  return n > 0 ? sum / n : 0;
}

double mean_skew(const recording::Recording& r, std::size_t from, std::size_t to) {
  double sum = 0, n = 0;
  for (std::size_t k = from; k < to; ++k) sum += r.position_a_m[k] - r.position_b_m[k], n += 1;
  return n > 0 ? sum / n : 0;
}

}  // namespace

// Each switch-on sets the scales to zero where the bridge stood; its stress-free skew in that zero is how far it
// stood racked. Friction holds at most F_c L^2/K each way, so that switch-ons differ by no more than twice that; what
// differs more was held by brakes or set by hand, which no capture tells, or the bridge moves while it is off. So it
// is a question and no cause.
std::optional<base::Finding> switch_ons_apart(const identification::MotionFit& fit) {
  if (!fit.done || fit.switch_ons.size() < 3) return {};
  const double spring = fit.x[identification::kStiffness], friction = coulomb_mean(fit);
  if (!(spring > 0) || !(friction > 0)) return {};
  const auto by_skew = [](const auto& p, const auto& q) {
    return p.stress_free_skew_m.value < q.stress_free_skew_m.value;
  };
  const auto [low, high] = std::minmax_element(fit.switch_ons.begin(), fit.switch_ons.end(), by_skew);
  const math::Estimate size = math::with_sd(high->stress_free_skew_m.value - low->stress_free_skew_m.value,
                                            std::hypot(high->stress_free_skew_m.sd, low->stress_free_skew_m.sd));
  const double limit = kHeld * friction / spring;
  if (!(size.lower > limit)) return {};
  base::Finding f = cause("switch_ons_apart", size, "m", limit, {}, 0).finding;
  f.verdict = base::Verdict::not_done;
  f.text = fmt::format(
      "From one switch-on to another the bridge stands up to {:.0f} um differently racked ({} against "
      "{}); friction alone holds {:.0f} um. Brakes that were shut or a skew set by hand explain it; else "
      "the bridge moves while it is off. The captures do not tell which.",
      1e6 * size.value, low->name, high->name, 1e6 * limit);
  f.next =
      "Make this one: switch off and on three times with nobody near and nothing moved, and search both marks each "
      "time. Differences that stay come from play, an end that shifts, or a brake that closes late on one side: home "
      "it after every switch-on until that is found (station marks).";
  return f;
}

// Fight that the loops hold with nothing in motion until the outputs go off: friction keeps part of it, the skew
// springs back by the rest.
std::vector<Cause> springs_back(const recording::Recording& r, const identification::MotionFit& fit,
                                double friction_n) {
  if (r.kind != recording::RunKind::enabling || !(friction_n > 0)) return {};
  if (!recording::has_positions(r) || !recording::has_forces(r) || !(r.period_s > 0)) return {};
  const Off off = off_of(r);
  const auto mean = static_cast<std::size_t>(std::ceil(kMean_s / r.period_s));
  if (off.to == 0 || off.from < mean) return {};
  const double held_n = mean_fight(r, off.from - mean, off.from), limit = kFight * friction_n;
  if (!(std::abs(held_n) > limit)) return {};
  const double jump = mean_skew(r, off.to - mean, off.to) - mean_skew(r, off.from - mean, off.from);
  const double spring = fit.done ? fit.x[identification::kStiffness] : 0;
  const std::string all =
      spring > 0 ? fmt::format(" of {:.0f} um that they may", 1e6 * std::abs(held_n) / spring) : "";
  return {seen_in(
      cause(
          "springs_back_" + r.name, math::with_sd(held_n, 0), "N", limit,
          {fmt::format("Until servo-off the loops hold {:.0f} N against the guides with nothing in motion; then the "
                       "skew springs back by {:.0f} um{}.",
                       std::abs(held_n), 1e6 * std::abs(jump), all),
           "Keep hands away from both ends at every switch-off. Let the controller take over the actual position of "
           "both sides at enable, and bring the commanded skew back to stress-free slowly (station marks)."},
          std::abs(held_n)),
      r, r.time_s[off.from - mean], r.time_s[off.to - 1])};
}

}  // namespace evenbeam::diagnosis
