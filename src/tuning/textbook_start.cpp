#include "tuning/textbook_start.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "base/side_by_side.h"
#include "tuning/gain_choice.h"

namespace evenbeam::tuning {
namespace {

using machine::Settings;

constexpr double kLeastStretch = 2.4, kMostStretch = 60;
constexpr double kStretchStep = 1.06;

// The first stretch that holds, going up in steps, then halved towards the last that did not, so that it moves
// smoothly with the fit; 0 where none holds.
double smallest(double from, double to, const std::function<bool(double)>& holds_at) {
  constexpr int kHalvings = 6;
  double fails = 0;
  for (double a = from; a <= to; a *= kStretchStep) {
    if (holds_at(a)) {
      for (int i = 0; fails > 0 && i < kHalvings; ++i) {
        const double middle = std::sqrt(fails * a);
        (holds_at(middle) ? a : fails) = middle;
      }
      return a;
    }
    fails = a;
  }
  return 0;
}

struct Slowed {
  double lag_factor = 1, filter_part = 1;  // of the filter that belongs to so long a lag
};

std::vector<Slowed> slowed_lags() {
  std::vector<Slowed> out;
  for (double factor : {2.0, 4.0, 8.0, 16.0, 32.0})
    for (double part : {1.0, 1.0 / 3}) out.push_back({factor, part});
  return out;
}

Basis with_lag(Basis b, const Slowed& by) {
  b.lag_s *= by.lag_factor, b.filter_hz *= by.filter_part / by.lag_factor;
  return b;
}

}  // namespace

TextbookStart textbook_start(const Basis& b, const Settings& s, double promised) {
  TextbookStart out{textbook_stretches(b, s, promised), b.lag_s, b.filter_hz};
  if (out.stretches.mean > 0) return out;
  const std::vector<Slowed> all = slowed_lags();
  const std::vector<SearchCase> cases = search_cases(b);
  std::vector<TextbookStart> starts(all.size());
  std::vector<double> cost(all.size());
  base::side_by_side(all.size(), base::machine_threads(), [&](std::size_t k) {
    const Basis slow = with_lag(b, all[k]);
    starts[k] = {textbook_stretches(slow, s, promised), slow.lag_s, slow.filter_hz, all[k].lag_factor};
    const Stretches& to = starts[k].stretches;
    if (to.mean > 0) cost[k] = score(cases, with_stretch(slow, s, to.mean, to.skew), {}).cost;
  });
  double least = 0;
  for (std::size_t k = 0; k < all.size(); ++k)
    if (starts[k].stretches.mean > 0 && (out.stretches.mean == 0 || cost[k] < least))
      out = starts[k], least = cost[k];
  return out;
}

Stretches textbook_stretches(const Basis& b, const Settings& s, double promised) {
  const auto with = [&](double mean, double skew) { return holds(b, with_stretch(b, s, mean, skew), promised); };
  const double mean = smallest(kLeastStretch, kMostStretch, [&](double a) { return with(a, kMostStretch); });
  const double skew = smallest(kLeastStretch, kMostStretch, [&](double a) { return with(kMostStretch, a); });
  if (mean == 0 || skew == 0) return {};
  const double both =
      smallest(1, kMostStretch / std::min(mean, skew), [&](double a) { return with(a * mean, a * skew); });
  return {both * mean, both * skew};
}

std::optional<Nearest> nearest_to(const Basis& b, const Settings& s) {
  std::vector<Slowed> all = slowed_lags();
  all.insert(all.begin(), Slowed{});
  std::vector<std::optional<Nearest>> nearest(all.size());
  base::side_by_side(all.size(), base::machine_threads(), [&](std::size_t k) {
    const Basis slow = with_lag(b, all[k]);
    std::optional<Nearest>& best = nearest[k];
    for (double a = kLeastStretch; a <= kMostStretch; a *= kStretchStep) {
      const Settings here = with_stretch(slow, s, a, a);
      const Nearest one{here, a, slow.lag_s, worst_of(slow, here)};
      if (best && one.worst.peak >= best->worst.peak) continue;
      if (stable_with_any_gain(slow, one.settings)) best = one;
    }
  });
  std::optional<Nearest> out;
  for (const auto& one : nearest)
    if (one && (!out || one->worst.peak < out->worst.peak)) out = one;
  return out;
}

}  // namespace evenbeam::tuning
