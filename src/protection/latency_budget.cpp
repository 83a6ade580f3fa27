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
    return peak_over_instants(place, s, runs) <= limit_m;
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

double peak_over_instants(const OrdinaryMove& place, Scenario s, int& runs) {
  const double own_s = s.fault_s;
  double peak = 0;
  const auto one = [&](double t) {
    s.fault_s = t;
    ++runs;
    peak = std::max(peak, run_fault(place, s).peak_skew_m);
  };
  for (double t : instants(place)) one(t);
  one(std::min(own_s, place.move.duration_s));
  return peak;
}

std::optional<double> latency_budget_s(const SearchRange& range, const Worst& worst, const SearchOptions& options,
                                       double limit_m, int& runs) {
  if (worst.place == nullptr) return std::nullopt;
  Scenario s = worst.scenario;
  s.latency_s = 0;
  if (peak_over_instants(*worst.place, s, runs) > limit_m) return std::nullopt;
  double budget = first_held(*worst.place, s, longest_latency_s, limit_m, runs);
  for (const OrdinaryMove& place : range.coarse)
    for (Scenario other : variants(worst.fault, worst.reaction, options)) {
      other.trip = worst.scenario.trip;
      other.latency_s = budget;
      other.fault_s = s.fault_s;
      if (budget <= 0 || peak_over_instants(place, other, runs) <= limit_m) continue;
      budget = first_held(place, other, budget, limit_m, runs);
    }
  return budget;
}

}  // namespace evenbeam::protection
