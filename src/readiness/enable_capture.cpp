#include "readiness/enable_capture.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::readiness {
namespace {

using recording::Recording;

constexpr double quiet_s = 0.05;  // means are over so long, where there is as much
constexpr double after_s = 0.1;   // looked at after enable
constexpr double least_off_s = 0.02;

std::size_t samples(const Recording& r, double time_s) {
  return static_cast<std::size_t>(std::max(1.0, std::round(time_s / r.period_s)));
}

// Mean of the finite values in [from, to); NaN where there is none.
double mean(const std::vector<double>& x, std::size_t from, std::size_t to) {
  double sum = 0, n = 0;
  for (std::size_t k = from; k < std::min(to, x.size()); ++k)
    if (std::isfinite(x[k])) sum += x[k], ++n;
  return n > 0 ? sum / n : std::nan("");
}

double skew(const Recording& r, std::size_t from, std::size_t to) {
  return mean(r.position_a_m, from, to) - mean(r.position_b_m, from, to);
}
double middle(const Recording& r, std::size_t from, std::size_t to) {
  return (mean(r.position_a_m, from, to) + mean(r.position_b_m, from, to)) / 2;
}

bool zero(const Recording& r, std::size_t k) { return r.force_a_n[k] == 0 && r.force_b_n[k] == 0; }

// The longest stretch of both outputs at zero: a loop that stands exactly on its reference gives zero too, but not
// for so long as drives are off.
std::optional<std::pair<std::size_t, std::size_t>> off_stretch(const Recording& r) {
  const std::size_t held = std::max<std::size_t>(20, samples(r, least_off_s)), n = r.time_s.size();
  std::pair<std::size_t, std::size_t> longest{0, 0};
  for (std::size_t k = 0; k < n; ++k) {
    if (!zero(r, k)) continue;
    std::size_t to = k;
    while (to < n && zero(r, to)) ++to;
    if (to - k > longest.second - longest.first) longest = {k, to};
    k = to;
  }
  if (longest.second - longest.first < held) return std::nullopt;
  return longest;
}

// The sample from which this side alone is at zero, going back from the off time.
double gone_s(const Recording& r, const std::vector<double>& force, std::size_t from) {
  std::size_t k = from;
  while (k > 0 && force[k - 1] == 0) --k;
  return r.time_s[k];
}
double came_s(const Recording& r, const std::vector<double>& force, std::size_t from) {
  std::size_t k = from;
  while (k < force.size() && force[k] == 0) ++k;
  return k < force.size() ? r.time_s[k] : std::nan("");
}

ServoOff servo_off(const Recording& r, std::size_t from, std::size_t to) {
  const std::size_t look = samples(r, quiet_s), before = from > look ? from - look : 0;
  const std::size_t last = to > from + look ? to - look : from;
  ServoOff out{.at_s = r.time_s[from],
               .until_s = r.time_s[to - 1],
               .off_a_s = gone_s(r, r.force_a_n, from),
               .off_b_s = gone_s(r, r.force_b_n, from)};
  const double a = mean(r.force_a_n, before, from), b = mean(r.force_b_n, before, from);
  out.fight_before_n = (a - b) / 2, out.sum_before_n = a + b;
  const double start = skew(r, before, from);
  out.released_m = skew(r, last, to) - start;
  out.sag_m = middle(r, last, to) - middle(r, before, from);
  for (std::size_t k = from; k < to; ++k) {
    const double moved = r.position_a_m[k] - r.position_b_m[k] - start;
    if (std::abs(moved) > std::abs(out.largest_m)) out.largest_m = moved;
  }
  return out;
}

double kick(const std::vector<double>& force, std::size_t from, std::size_t to, std::size_t end) {
  const double later = mean(force, to, end);
  double largest = 0;
  for (std::size_t k = from; k < std::min(to, force.size()); ++k)
    if (std::isfinite(force[k])) largest = std::max(largest, std::abs(force[k] - (std::isfinite(later) ? later : 0)));
  return largest;
}

ServoOn servo_on(const Recording& r, std::size_t on) {
  ServoOn out{.at_s = r.time_s[on], .on_a_s = came_s(r, r.force_a_n, on), .on_b_s = came_s(r, r.force_b_n, on)};
  const std::size_t look = samples(r, quiet_s), before = on > look ? on - look : 0, to = on + samples(r, after_s);
  if (has_references(r)) {
    const double a = r.reference_a_m[on] - r.position_a_m[on - 1], b = r.reference_b_m[on] - r.position_b_m[on - 1];
    out.jump_mean_m = (a + b) / 2, out.jump_skew_m = a - b;
  }
  const std::size_t end = to + 4 * look;
  out.kick_a_n = kick(r.force_a_n, on, to, end), out.kick_b_n = kick(r.force_b_n, on, to, end);
  const double skew_before = skew(r, before, on), mean_before = middle(r, before, on);
  for (std::size_t k = on; k < std::min(end, r.time_s.size()); ++k) {
    const double s = r.position_a_m[k] - r.position_b_m[k] - skew_before;
    const double m = (r.position_a_m[k] + r.position_b_m[k]) / 2 - mean_before;
    if (std::abs(s) > std::abs(out.moved_skew_m)) out.moved_skew_m = s;
    if (std::abs(m) > std::abs(out.moved_mean_m)) out.moved_mean_m = m;
  }
  return out;
}

}  // namespace

std::vector<EnableCapture> enable_captures(const std::vector<Recording>& recordings) {
  std::vector<EnableCapture> out;
  for (const Recording& r : recordings) {
    if (r.kind != recording::RunKind::enabling || !has_positions(r) || !has_forces(r) || !(r.period_s > 0)) continue;
    const auto off = off_stretch(r);
    if (!off) continue;
    EnableCapture one{.recording = &r, .doubt_m = std::hypot(r.count_a_m, r.count_b_m)};
    if (off->first > 0) one.off = servo_off(r, off->first, off->second);
    if (off->second < r.time_s.size()) one.on = servo_on(r, off->second);
    out.push_back(one);
  }
  return out;
}

}  // namespace evenbeam::readiness
