#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "diagnosis/criteria.h"
#include "diagnosis/fight_budget.h"
#include "diagnosis/slope.h"

namespace evenbeam::diagnosis {
namespace {

constexpr std::size_t kBlocks = 10;    // of one standstill, means of which a line goes through
constexpr double kWithin_s = 3600;     // common practice, no source: an overload that comes within the hour
constexpr double kLeastSeconds = 2;    // shorter tells no slope; a proposal, no source
constexpr double kBeyondFriction = 1;  // of a side's friction: what it holds may rise and fall; a proposal

struct Side {
  char name;
  const std::vector<double>* force_n;
  std::optional<double> continuous_n;
  double sign = 1;  // of the fight in this side's force
};

// Straight line through the means of the blocks between from_s and to_s: level at its end, and slope a second.
struct Held {
  double end_n = 0;
  math::Estimate per_s;
};

std::optional<Held> held(const recording::Recording& r, const std::vector<double>& force_n, const PhaseMeans& m) {
  std::vector<double> sum(kBlocks, 0), n(kBlocks, 0);
  const double span_s = m.to_s - m.from_s;
  if (!(span_s > 0)) return {};
  for (std::size_t i = 0; i < r.time_s.size(); ++i) {
    const double part = (r.time_s[i] - m.from_s) / span_s;
    if (part < 0 || part > 1 || !std::isfinite(force_n[i])) continue;
    const auto k = std::min(kBlocks - 1, static_cast<std::size_t>(part * kBlocks));
    sum[k] += force_n[i], n[k] += 1;
  }
  std::vector<double> x(kBlocks), y(kBlocks);
  for (std::size_t k = 0; k < kBlocks; ++k) {
    if (n[k] == 0) return {};
    x[k] = (static_cast<double>(k) - (kBlocks - 1) / 2.0) / kBlocks * span_s;  // from the middle
    y[k] = sum[k] / n[k];
  }
  const math::Estimate per_s = slope(x, y);
  return Held{mean(y) + per_s.value * span_s / 2, per_s};
}

std::string when(const Held& h, double continuous_n, double left_s) {
  if (std::abs(h.end_n) >= continuous_n) return "it is over that already: the drive's thermal model ends it";
  return fmt::format("rising by {:.2g} N a second it is there after {:.0f} min", std::abs(h.per_s.value),
                     std::ceil(left_s / 60));
}

}  // namespace

// At rest a motor's load is the force it holds, whose square heats it; the continuous force is what it bears for ever
// (common practice, no source). A side that holds more, or rises to it within the hour, ends in its overload. The
// rise is asked of standstills alone: between moves the standing force is that of the last stop.
std::vector<Cause> overload_at_rest(const recording::Recording& r, const machine::Machine& machine,
                                    double friction_n) {
  using recording::RunKind;
  std::vector<Cause> out;
  if (r.kind != RunKind::standstill && r.kind != RunKind::test_move && r.kind != RunKind::slow_jog) return out;
  const Side sides[] = {{'A', &r.force_a_n, machine.a.continuous_force_n, 1},
                        {'B', &r.force_b_n, machine.b.continuous_force_n, -1}};
  for (const PhaseMeans& m : phases_of(r)) {
    if (m.phase != Phase::standing) continue;
    for (const Side& side : sides) {
      if (!side.continuous_n || !(*side.continuous_n > 0)) continue;
      const auto h = r.kind == RunKind::standstill ? held(r, *side.force_n, m)
                                                   : Held{m.sum_n / 2 + side.sign * m.fight_n, math::with_sd(0, 0)};
      if (!h) continue;
      const double now = std::abs(h->end_n), rise = std::copysign(1.0, h->end_n) * h->per_s.value;
      const double left_s = rise > 0 ? (*side.continuous_n - now) / rise : 1e300;
      const bool rising = beside_zero(h->per_s) && m.to_s - m.from_s >= kLeastSeconds &&
                          now > kBeyondFriction * friction_n && left_s < kWithin_s;
      if (!(now >= *side.continuous_n) && !rising) continue;
      out.push_back(seen_in(
          cause(
              fmt::format("overload_at_rest_{}_{}", side.name == 'A' ? 'a' : 'b', r.name), math::with_sd(now, 0), "N",
              *side.continuous_n,
              {fmt::format("{} holds {:.0f} N with nothing in motion, of {:.0f} N that its motor bears for ever; {}.",
                           side.name, now, *side.continuous_n, when(*h, *side.continuous_n, left_s)),
               "Do not leave it standing under power. Look at what it is held against: a skew commanded, a pull, a "
               "brake that is shut; then stand half an hour and see whether the force stays."},
              now / 2),
          r, m.from_s, m.to_s));
    }
  }
  return out;
}

}  // namespace evenbeam::diagnosis
