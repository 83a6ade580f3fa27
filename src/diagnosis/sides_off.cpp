#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kLeastOff_s = 0.02;    // exactly zero so long is no crossing; a proposal, no source
constexpr double kLeastDead_s = 0.1;    // the same while nothing is commanded; a proposal, no source
constexpr double kOtherSteps = 20;      // the other side gives this many least steps of an output; a proposal
constexpr double kMovingCounts = 10;    // in the kLeastOff_s before: in motion
constexpr double kTogether_s = 1.5e-3;  // off within one cycle of a slow controller: together; a proposal

struct Stretch {
  std::size_t from = 0, to = 0;  // outputs exactly zero
};
using Outputs = std::vector<double>;

// Stretches of exact zeros of at least `least` samples that follow an output.
std::vector<Stretch> zeros_of(const Outputs& force_n, std::size_t least) {
  std::vector<Stretch> out;
  for (std::size_t i = 1; i < force_n.size(); ++i) {
    if (force_n[i] != 0 || force_n[i - 1] == 0) continue;
    std::size_t to = i;
    while (to < force_n.size() && force_n[to] == 0) ++to;
    if (to - i >= least) out.push_back({i, to});
    i = to;
  }
  return out;
}

double least_step(const Outputs& force_n) {
  double out = 1e300;
  for (const double f : force_n)
    if (f != 0 && std::isfinite(f)) out = std::min(out, std::abs(f));
  return out;
}

double mean_size(const Outputs& force_n, const Stretch& s) {
  double sum = 0;
  for (std::size_t i = s.from; i < s.to; ++i) sum += std::abs(force_n[i]);
  return sum / static_cast<double>(s.to - s.from);
}

double moved_before(const recording::Recording& r, std::size_t at, std::size_t span) {
  const auto mean = [&](std::size_t i) { return (r.position_a_m[i] + r.position_b_m[i]) / 2; };
  return std::abs(mean(at) - mean(at > span ? at - span : 0));
}

// A trip at the first counts of a move is in motion too: the commands go on.
double commanded_after(const recording::Recording& r, std::size_t at, std::size_t span) {
  const auto mean = [&](std::size_t i) { return (r.reference_a_m[i] + r.reference_b_m[i]) / 2; };
  return std::abs(mean(std::min(at + span, r.time_s.size() - 1)) - mean(at));
}

bool commands_stand(const recording::Recording& r, const Stretch& s) {
  for (std::size_t i = s.from + 1; i < s.to; ++i)
    if (r.reference_a_m[i] != r.reference_a_m[s.from] || r.reference_b_m[i] != r.reference_b_m[s.from]) return false;
  return true;
}

Cause spanned(Cause c, const recording::Recording& r, const Stretch& s) {
  return seen_in(std::move(c), r, r.time_s[s.from], r.time_s[s.to - 1]);
}

Cause trip_cause(const recording::Recording& r, const Stretch& s) {
  const double error_a = r.reference_a_m[s.from] - r.position_a_m[s.from],
               error_b = r.reference_b_m[s.from] - r.position_b_m[s.from];
  return spanned(
      cause("tripped_in_motion_" + r.name, math::with_sd(error_a - error_b, 0), "m", 0,
            {fmt::format("Both outputs go off in motion: a trip. A was {:.0f} um behind its reference, B {:.0f} um.",
                         1e6 * error_a, 1e6 * error_b),
             "Read which side's fault came first. Compare the following-error limits and times of both drives: the "
             "same on both, above what legal moves need (station trips); then look at the side that lagged."},
            0),
      r, s);
}

Cause off_cause(const recording::Recording& r, const Stretch& s, char side, double other_n) {
  return spanned(
      cause(
          fmt::format("one_side_off_{}_{}", side == 'A' ? 'a' : 'b', r.name), math::with_sd(other_n, 0), "N", 0,
          {fmt::format("{}'s output goes to zero in motion and stays there for {:.0f} ms, while the other side goes "
                       "on, with {:.0f} N on average over the first 20 ms.",
                       side, 1e3 * static_cast<double>(s.to - s.from) * r.period_s, other_n),
           "One event must stop both sides in the same cycle: look at the coupling of faults and at stop reactions "
           "of both drives before the next move. Station trips says how long the bridge takes it."},
          other_n / 2),
      r, s);
}

Cause dead_cause(const recording::Recording& r, const Stretch& s, char side, double other_n) {
  return spanned(
      cause(fmt::format("dead_band_{}_{}", side == 'A' ? 'a' : 'b', r.name), math::with_sd(other_n, 0), "N", 0,
            {fmt::format("With nothing commanded, {} gives no output at all for {:.1f} s, while the other side holds "
                         "{:.0f} N: each stops where its own dead band ends, and the rest stays in the guides.",
                         side, static_cast<double>(s.to - s.from) * r.period_s, other_n),
             fmt::format("Take the dead band or in-position switching of {} out, or make it the same and far smaller "
                         "than the skew that matters on both sides.",
                         side)},
            other_n / 2),
      r, s);
}

struct SideOff {
  char name;
  const Outputs* other;
  Stretch at;
};

// Of both sides, the earliest first.
std::vector<SideOff> sides_off_in_turn(const recording::Recording& r, std::size_t least) {
  std::vector<SideOff> out;
  for (const Stretch& s : zeros_of(r.force_a_n, least)) out.push_back({'A', &r.force_b_n, s});
  for (const Stretch& s : zeros_of(r.force_b_n, least)) out.push_back({'B', &r.force_a_n, s});
  std::stable_sort(out.begin(), out.end(), [](const auto& p, const auto& q) { return p.at.from < q.at.from; });
  return out;
}

}  // namespace

std::vector<Cause> sides_off(const recording::Recording& r) {
  using recording::RunKind;
  constexpr std::array kinds{RunKind::test_move, RunKind::slow_jog, RunKind::search, RunKind::multisine,
                             RunKind::skew_step};
  if (std::find(kinds.begin(), kinds.end(), r.kind) == kinds.end()) return {};
  if (!recording::has_forces(r) || !recording::has_positions(r) || !recording::has_references(r)) return {};
  const auto samples = [&](double time_s) { return static_cast<std::size_t>(std::ceil(time_s / r.period_s)); };
  const double count_m = std::max(r.count_a_m, r.count_b_m);
  for (const SideOff& off : sides_off_in_turn(r, samples(kLeastOff_s))) {
    const Stretch& s = off.at;
    const bool moving = moved_before(r, s.from, samples(kLeastOff_s)) > kMovingCounts * count_m ||
                        commanded_after(r, s.from, samples(kLeastOff_s)) > kMovingCounts * count_m;
    const std::size_t soon = std::min(s.to - 1, s.from + samples(kTogether_s));
    if (moving && (*off.other)[soon] == 0) return {trip_cause(r, s)};
    const double enough_n = kOtherSteps * least_step(*off.other), other_n = mean_size(*off.other, s);
    if (other_n >= enough_n && s.to - s.from >= samples(kLeastDead_s) && commands_stand(r, s))
      return {dead_cause(r, s, off.name, other_n)};
    // A partner that stops late gives force at first only.
    const double at_first_n = mean_size(*off.other, {s.from, std::min(s.to, s.from + samples(kLeastOff_s))});
    if (moving && at_first_n >= enough_n) return {off_cause(r, s, off.name, at_first_n)};
  }
  return {};
}

}  // namespace evenbeam::diagnosis
