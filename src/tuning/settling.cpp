#include "tuning/settling.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace evenbeam::tuning {
namespace {

constexpr double kStillPart = 3e-4;
constexpr double kLeastRest_s = 0.05;

std::vector<bool> moving(const simulation::RunSeries& s) {
  const size_t n = s.time_s.size();
  const auto step = [&](size_t k) {
    return std::abs(s.reference_a_m[k] - s.reference_a_m[k - 1]) +
           std::abs(s.reference_b_m[k] - s.reference_b_m[k - 1]);
  };
  double largest = 0;
  for (size_t k = 1; k < n; ++k) largest = std::max(largest, step(k));
  std::vector<bool> out(n, false);
  for (size_t k = 1; k < n; ++k) out[k] = step(k) > kStillPart * largest;
  return out;
}

}  // namespace

std::string why_unknown(const Settling& s, double window_m) {
  if (s.stops == 0) return "the move holds no stop of at least 50 ms";
  if (s.not_settled == 0) return {};
  return fmt::format(
      "{} of {} stops still outside {:.3g} um when watching ended, at the earliest {:.3g} s after the stop",
      s.not_settled, s.stops, 1e6 * window_m, s.watched_s);
}

Settling settling(const simulation::RunSeries& s, double window_m) {
  Settling out{.watched_s = std::numeric_limits<double>::infinity()};
  const size_t n = s.time_s.size();
  const std::vector<bool> moves = moving(s);
  double longest = 0;
  for (size_t k = 1; k < n;) {
    if (moves[k] || !moves[k - 1]) {
      ++k;
      continue;
    }
    size_t end = k, left = k - 1;  // the rest is [k, end), `left` the last one outside
    for (; end < n && !moves[end]; ++end) {
      const double a = s.position_a_m[end] - s.reference_a_m[end], b = s.position_b_m[end] - s.reference_b_m[end];
      if (std::abs(a - b) > window_m || std::abs(a + b) > 2 * window_m) left = end;
    }
    const double watched = static_cast<double>(end - k) * s.period_s;
    if (watched >= kLeastRest_s) {
      ++out.stops;
      out.watched_s = std::min(out.watched_s, watched);
      out.not_settled += left + 1 >= end;
      longest = std::max(longest, static_cast<double>(left + 1 - k) * s.period_s);
    }
    k = end;
  }
  if (out.stops == 0) out.watched_s = 0;
  if (out.stops > 0 && out.not_settled == 0) out.longest_s = longest;
  return out;
}

}  // namespace evenbeam::tuning
