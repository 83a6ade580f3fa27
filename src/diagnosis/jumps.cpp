#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr std::size_t kBefore = 4;    // samples on either side, held by a line through each four
constexpr double kLeastCounts = 6;    // of the reading; a proposal, no source
constexpr double kAboveOrdinary = 5;  // times what all but 2 in 1,000 samples stay below; a proposal, no source
constexpr double kOrdinary = 0.998;

// How far the reading steps between samples i - 1 and i: line through the four after, less line through the four
// before, both half a sample from the gap. Weights of the least-squares line at 2 samples from its middle.
double step_at(const std::vector<double>& x, std::size_t i) {
  constexpr double at_end[kBefore] = {-0.35, 0.05, 0.45, 0.85};  // 1/4 + 2 (k - 3/2)/5
  double before = 0, after = 0;
  for (std::size_t k = 0; k < kBefore; ++k) {
    before += at_end[k] * x[i - kBefore + k];
    after += at_end[k] * x[i + kBefore - 1 - k];
  }
  return after - before;
}

struct Jump {
  double size_m = 0, ordinary_m = 0;
  std::size_t at = 0;
};

std::optional<Jump> largest_jump(const std::vector<double>& x, double count_m) {
  if (x.size() < 100 * kBefore || !(count_m > 0)) return {};
  std::vector<double> steps(x.size(), std::numeric_limits<double>::quiet_NaN());  // their sizes, by place
  Jump out;
  for (std::size_t i = kBefore; i + kBefore <= x.size(); ++i) {
    const double step = step_at(x, i);
    if (!std::isfinite(step)) continue;
    steps[i] = std::abs(step);
    if (std::abs(step) > std::abs(out.size_m)) out.size_m = step, out.at = i;
  }
  if (out.at == 0) return {};
  // A jump is seen from every place whose eight samples hold it: these say nothing of what is ordinary.
  steps.erase(steps.begin() + static_cast<std::ptrdiff_t>(out.at + 1 - kBefore),
              steps.begin() + static_cast<std::ptrdiff_t>(std::min(out.at + kBefore, steps.size())));
  std::erase_if(steps, [](double step) { return !std::isfinite(step); });
  if (steps.empty()) return {};
  const auto at = steps.begin() + static_cast<std::ptrdiff_t>(kOrdinary * static_cast<double>(steps.size() - 1));
  std::nth_element(steps.begin(), at, steps.end());
  out.ordinary_m = *at;
  const double limit = std::max(kLeastCounts * count_m, kAboveOrdinary * out.ordinary_m);
  return std::abs(out.size_m) > limit ? std::optional(out) : std::nullopt;
}

}  // namespace

std::vector<Cause> position_jumps(const recording::Recording& r, const identification::MotionFit& fit) {
  std::vector<Cause> out;
  const auto side = [&](const char* name, const char* id, const std::vector<double>& x, double count_m) {
    const auto jump = largest_jump(x, count_m);
    if (!jump) return;
    const double limit = std::max(kLeastCounts * count_m, kAboveOrdinary * jump->ordinary_m);
    const double fight_n = fit.done ? std::abs(fit.x[identification::kStiffness] * jump->size_m) : 0;
    out.push_back(seen_in(
        cause(
            fmt::format("position_jumps_{}_{}", id, r.name), math::with_sd(jump->size_m, jump->ordinary_m), "m",
            limit,
            {fmt::format("{}'s position jumps by {:.0f} um from one sample to the next, faster than the bridge moves "
                         "anywhere else in this recording; what was lost stays as skew.",
                         name, 1e6 * jump->size_m),
             fmt::format("Stop using this zero. Look at {}'s reading head: gap, dirt, plug, shield. Then search both "
                         "marks again and compare the skew.",
                         name)},
            fight_n),
        r, r.time_s[jump->at - 1], r.time_s[std::min(jump->at + kBefore, r.time_s.size() - 1)]));
  };
  side("A", "a", r.position_a_m, r.count_a_m);
  side("B", "b", r.position_b_m, r.count_b_m);
  return out;
}

}  // namespace evenbeam::diagnosis
