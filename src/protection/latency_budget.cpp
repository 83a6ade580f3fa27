#include "protection/latency_budget.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::protection {
namespace {

constexpr double kShortest_s = 2e-4;
constexpr int kTried = 10, kHalvings = 5;

// The first latency that fails, narrowed, at one place.
double first_held(const OrdinaryMove& place, Scenario s, double highest_s, double limit_m, int& runs) {
  const auto held = [&](double latency) {
    s.latency_s = latency;
    return holds_at_all_instants(place, s, limit_m, runs);
  };
  const double ratio = std::pow(longest_latency_s / kShortest_s, 1.0 / (kTried - 1));
  double low = 0, high = kShortest_s;
  while (high < highest_s && held(high)) low = high, high *= ratio;
  if (high >= highest_s) {
    if (held(highest_s)) return highest_s;
    high = highest_s;
  }
  for (int i = 0; i < kHalvings && low > 0; ++i) {
    const double middle = std::sqrt(low * high);
    (held(middle) ? low : high) = middle;
  }
  return low;
}

}  // namespace

bool holds_at_all_instants(const OrdinaryMove& place, Scenario s, double limit_m, int& runs) {
  const double own_s = std::min(s.fault_s, place.move.duration_s);
  s.asked_m = limit_m;
  const auto holds = [&](double t) {
    s.fault_s = t;
    ++runs;
    return run_fault(place, s).peak_skew_m <= limit_m;
  };
  if (!holds(own_s)) return false;  // its own instant first: the likeliest to fail
  const std::vector<double> all = instants(place);
  return std::all_of(all.begin(), all.end(), holds);
}

std::optional<double> latency_budget_s(const SearchRange& range, const Worst& worst, const SearchOptions& options,
                                       double limit_m, int& runs) {
  if (worst.place == nullptr) return std::nullopt;
  Scenario s = worst.scenario;
  s.latency_s = 0;
  if (!holds_at_all_instants(*worst.place, s, limit_m, runs)) return std::nullopt;
  double budget = first_held(*worst.place, s, longest_latency_s, limit_m, runs);
  for (const OrdinaryMove& place : range.coarse)
    for (Scenario other : variants(worst.fault, worst.reaction, options)) {
      other.trip = worst.scenario.trip;
      other.latency_s = budget;
      other.fault_s = s.fault_s;
      if (budget <= 0 || holds_at_all_instants(place, other, limit_m, runs)) continue;
      budget = first_held(place, other, budget, limit_m, runs);
    }
  return budget;
}

}  // namespace evenbeam::protection
