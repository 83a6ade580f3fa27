#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "diagnosis/criteria.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kLeastCounts = 6;      // peak to peak; a proposal, no source
constexpr std::size_t kLeastTurns = 8;  // half swings
constexpr double kRegular = 0.3;        // spread of the half swings' length over their mean; a proposal, no source
constexpr double kLeast_s = 0.3;        // of rest
constexpr double kSettle_s = 0.3;       // after a move; common practice, no source

struct Swing {
  double peak_to_peak_m = 0, hz = 0, from_s = 0, to_s = 0;
};

// A swing that keeps its beat: the value crosses a band of a quarter of its range, up and down, at even times.
std::optional<Swing> swing_of(const std::vector<double>& time_s, const std::vector<double>& x, std::size_t from,
                              std::size_t to, double count_m) {
  const auto [low, high] =
      std::minmax_element(x.begin() + static_cast<std::ptrdiff_t>(from), x.begin() + static_cast<std::ptrdiff_t>(to));
  const double range = *high - *low, middle = (*high + *low) / 2;
  if (!(range > kLeastCounts * count_m)) return {};
  std::vector<double> turns;
  int side = 0;
  for (std::size_t i = from; i < to; ++i) {
    const int now = x[i] > middle + range / 8 ? 1 : (x[i] < middle - range / 8 ? -1 : side);
    if (side != 0 && now != side) turns.push_back(time_s[i]);
    side = now;
  }
  if (turns.size() < kLeastTurns) return {};
  const double n = static_cast<double>(turns.size() - 1), half_s = (turns.back() - turns.front()) / n;
  double squares = 0;
  for (std::size_t k = 1; k < turns.size(); ++k) squares += std::pow(turns[k] - turns[k - 1] - half_s, 2);
  if (std::sqrt(squares / n) > kRegular * half_s) return {};
  return Swing{range, 0.5 / half_s, time_s[from], time_s[to - 1]};
}

// Stretches without commanded motion, from kSettle_s after it ended.
std::vector<std::pair<std::size_t, std::size_t>> rests(const recording::Recording& r) {
  std::vector<std::pair<std::size_t, std::size_t>> out;
  const auto settle = static_cast<std::size_t>(kSettle_s / r.period_s);
  const auto least = static_cast<std::size_t>(kLeast_s / r.period_s);
  std::size_t from = 0;
  for (std::size_t i = 1; i <= r.time_s.size(); ++i) {
    const bool still = i < r.time_s.size() && r.reference_a_m[i] == r.reference_a_m[i - 1] &&
                       r.reference_b_m[i] == r.reference_b_m[i - 1];
    if (still) continue;
    const std::size_t begin = from == 0 ? 0 : from + settle;
    if (i > begin + least) out.emplace_back(begin, i);
    from = i;
  }
  return out;
}

}  // namespace

std::vector<Cause> hunting(const recording::Recording& r) {
  if (!recording::has_references(r) || !recording::has_positions(r) || !(r.period_s > 0)) return {};
  const std::vector<double> skew = recording::difference(r.position_a_m, r.position_b_m);
  const double count_m = std::max(r.count_a_m, r.count_b_m);
  std::optional<Swing> worst;
  for (const auto& [from, to] : rests(r)) {
    const auto swing = swing_of(r.time_s, skew, from, to, count_m);
    if (swing && (!worst || swing->peak_to_peak_m > worst->peak_to_peak_m)) worst = swing;
  }
  if (!worst) return {};
  return {seen_in(
      cause("hunts_at_rest_" + r.name, math::with_sd(worst->peak_to_peak_m, count_m), "m", kLeastCounts * count_m,
            {fmt::format("At rest the bridge swings in yaw by {:.0f} um peak to peak at {:.1f} Hz, with nothing "
                         "commanded.",
                         1e6 * worst->peak_to_peak_m, worst->hz),
             "Lower the skew loop's gain by half and record the rest again: a swing that grows smaller and slower "
             "is the loop's (station loops proposes margins); one that keeps its beat comes from outside; one of "
             "few hertz that stays with the integrators is friction: let the skew integrator leak."},
            0),
      r, worst->from_s, worst->to_s)};
}

}  // namespace evenbeam::diagnosis
