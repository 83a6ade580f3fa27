#include "nudge/pushes.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/check.h"

namespace evenbeam::nudge {
namespace {

using recording::Recording;

constexpr double kOn = 0.05;            // of the largest output in the file; below it is rest
constexpr double kSameLevel = 0.1;      // an output within this part of its first value is the same push
constexpr double kOneSided = 0.1;       // a side with less than this part of the other's output is not pushed
constexpr double kShortest_s = 2e-3;    // shorter flat stretches are edges
constexpr double kBefore_s = 5e-3;      // where x0 is taken
constexpr double kLeastRest_s = 50e-3;  // shorter rests do not show where the bridge comes to stand
constexpr double kNoise_s = 20e-3;      // of the end of each rest, where noise is judged

double largest_of(const std::vector<double>& x) {
  double largest = 0;
  for (double v : x)
    if (std::isfinite(v)) largest = std::max(largest, std::abs(v));
  return largest;
}

// Over [from, to), missing samples left out; NaN where none is left.
double mean_of(const std::vector<double>& x, std::size_t from, std::size_t to) {
  double sum = 0, n = 0;
  for (std::size_t k = from; k < to; ++k)
    if (std::isfinite(x[k])) sum += x[k], n += 1;
  return n > 0 ? sum / n : std::numeric_limits<double>::quiet_NaN();
}

double spread_of(const std::vector<double>& x, std::size_t from, std::size_t to) {
  const double mean = mean_of(x, from, to);
  double squares = 0, n = 0;
  for (std::size_t k = from; k < to; ++k)
    if (std::isfinite(x[k])) squares += (x[k] - mean) * (x[k] - mean), n += 1;
  return n > 1 ? std::sqrt(squares / (n - 1)) : 0;
}

struct Stretch {
  std::size_t from = 0, to = 0;  // samples, to is one past the last
};

bool same_level(double first, double now) { return std::abs(now - first) <= kSameLevel * std::abs(first); }

// Stretches in which the outputs keep a level other than zero.
std::vector<Stretch> flat_stretches(const Recording& r) {
  const double on_n = kOn * std::max(largest_of(r.force_a_n), largest_of(r.force_b_n));
  const auto level = [&](const std::vector<double>& f, std::size_t k) { return std::abs(f[k]) > on_n ? f[k] : 0.0; };
  const auto shortest = std::max<std::size_t>(3, static_cast<std::size_t>(kShortest_s / r.period_s));
  std::vector<Stretch> out;
  std::size_t k = 0;
  while (on_n > 0 && k < r.time_s.size()) {
    const double a = level(r.force_a_n, k), b = level(r.force_b_n, k);
    std::size_t end = k + 1;
    while (end < r.time_s.size() && same_level(a, level(r.force_a_n, end)) && same_level(b, level(r.force_b_n, end)))
      ++end;
    if ((a != 0 || b != 0) && end - k >= shortest) out.push_back({k, end});
    k = end;
  }
  return out;
}

// Standard deviation of the position at the ends of the rests: the median, so that one that still rings does not
// count.
double noise_at_rest(const Recording& r, const std::vector<double>& x, const std::vector<Stretch>& stretches) {
  const auto length = std::max<std::size_t>(4, static_cast<std::size_t>(kNoise_s / r.period_s));
  std::vector<double> spreads;
  for (std::size_t i = 0; i <= stretches.size(); ++i) {
    const std::size_t rest_from = i == 0 ? 0 : stretches[i - 1].to;
    const std::size_t rest_to = i == stretches.size() ? x.size() : stretches[i].from;
    if (rest_to >= rest_from + length) spreads.push_back(spread_of(x, rest_to - length, rest_to));
  }
  if (spreads.empty()) return 0;
  std::nth_element(spreads.begin(), spreads.begin() + std::ptrdiff_t(spreads.size() / 2), spreads.end());
  return spreads[spreads.size() / 2];
}

SideMove measure(const Recording& r, const std::vector<double>& x, Stretch push, std::size_t rest_from,
                 std::size_t rest_to, double threshold_m) {
  SideMove out{.threshold_m = threshold_m};
  const auto before = static_cast<std::size_t>(kBefore_s / r.period_s);
  const std::size_t from = std::max(rest_from, push.from > before ? push.from - before : 0);
  const double x0 = from < push.from ? mean_of(x, from, push.from) : x[push.from];
  const double mean = mean_of(x, push.from, push.to) - x0;
  if (std::isfinite(mean)) out.mean_m = mean;
  // One sample further: the last force is held until then.
  for (std::size_t k = push.from; k < std::min(push.to + 1, x.size()); ++k)
    if (std::isfinite(x[k] - x0) && std::abs(x[k] - x0) > std::abs(out.peak_m)) out.peak_m = x[k] - x0;
  out.moved = std::abs(out.peak_m) > threshold_m;
  const auto rest = static_cast<std::size_t>(kLeastRest_s / r.period_s);
  out.after_m = rest_to >= push.to + rest
                    ? mean_of(x, rest_to - std::min(rest, (rest_to - push.to) / 5 + 1), rest_to) - x0
                    : std::numeric_limits<double>::quiet_NaN();
  return out;
}

double threshold_of(double count_m, double noise_m) {
  constexpr double unknown_count_m = 1e-6;
  return std::max(4 * (count_m > 0 ? count_m : unknown_count_m), 6 * noise_m);
}

}  // namespace

std::vector<Push> find_pushes(const Recording& r) {
  std::vector<Push> out;
  if (!has_positions(r) || !has_forces(r) || !(r.period_s > 0)) return out;
  const std::vector<Stretch> stretches = flat_stretches(r);
  const double threshold_a_m = threshold_of(r.count_a_m, noise_at_rest(r, r.position_a_m, stretches));
  const double threshold_b_m = threshold_of(r.count_b_m, noise_at_rest(r, r.position_b_m, stretches));
  for (std::size_t i = 0; i < stretches.size(); ++i) {
    const Stretch s = stretches[i];
    const std::size_t rest_from = i == 0 ? 0 : stretches[i - 1].to;
    const std::size_t rest_to = i + 1 < stretches.size() ? stretches[i + 1].from : r.time_s.size();
    Push push{.recording = &r};
    push.force_a_n = mean_of(r.force_a_n, s.from, s.to);
    push.force_b_n = mean_of(r.force_b_n, s.from, s.to);
    const double a = std::abs(push.force_a_n), b = std::abs(push.force_b_n);
    push.side = b < kOneSided * a ? PushSide::a : a < kOneSided * b ? PushSide::b : PushSide::both;
    push.from_s = r.time_s[s.from];
    push.to_s = push.from_s + static_cast<double>(s.to - s.from) * r.period_s;
    push.rest_to_s = r.time_s[rest_to - 1];
    push.a = measure(r, r.position_a_m, s, rest_from, rest_to, threshold_a_m);
    push.b = measure(r, r.position_b_m, s, rest_from, rest_to, threshold_b_m);
    out.push_back(push);
  }
  return out;
}

const SideMove& own(const Push& push) {
  base::check(push.side != PushSide::both, "a push of one side");
  return push.side == PushSide::a ? push.a : push.b;
}

const SideMove& other(const Push& push) {
  base::check(push.side != PushSide::both, "a push of one side");
  return push.side == PushSide::a ? push.b : push.a;
}

double own_force_n(const Push& push) { return push.side == PushSide::a ? push.force_a_n : push.force_b_n; }

}  // namespace evenbeam::nudge
