#include "homing/search_range.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

constexpr double kSeenToStated =
    1.5;  // range allowed for over the largest start skew seen; common practice, no source
constexpr double kLatchDelay_s = 1e-3;  // when the drive does not say; from memory, a servo cycle or less

// Travel of the recorded move after its second mark.
double left_after(const recording::Recording& r, const SearchRun& run) {
  const double later = std::max(run.seen_a_s, run.seen_b_s);
  double at = 0, end = 0;
  for (size_t i = 0; i < r.time_s.size(); ++i) {
    const double x = (r.position_a_m[i] + r.position_b_m[i]) / 2;
    if (!std::isfinite(x)) continue;
    if (r.time_s[i] <= later) at = x;
    end = x;
  }
  return std::abs(end - at);
}

}  // namespace

SearchRange search_range(const Marks& marks, const std::vector<recording::Recording>& recordings,
                         const machine::Machine& machine) {
  SearchRange out;
  if (!marks.known) return out;
  double seen = 0, speed = 0;
  for (const SearchRun& run : marks.runs) {
    if (run.stress_free_m) seen = std::max(seen, std::abs(run.stress_free_m->value));
    speed = std::max(speed, std::abs(run.speed_m_per_s));
  }
  out.start_skew_m = kSeenToStated * seen;
  out.start_skew_source = "1.5 times the largest of the recorded switch-ons; common practice, no source";
  const double difference = std::abs(marks.b_minus_a_free_m.value);
  const double uncertainty =
      2 * 1.96 * marks.b_minus_a_free_m.sd + machine.a.count_m.value_or(0) + machine.b.count_m.value_or(0);
  const double acceleration = machine.limits.acceleration_m_per_s2.value_or(1.0);
  out.overtravel_m = difference + out.start_skew_m + uncertainty + speed * kLatchDelay_s;
  out.start_before_first_mark_m = out.start_skew_m + speed * speed / (2 * acceleration) + uncertainty;
  out.success_margin_m = 1e9;
  for (const SearchRun& run : marks.runs)
    for (const auto& r : recordings)
      if (r.name == run.name && run.both_seen)
        out.success_margin_m = std::min(out.success_margin_m, left_after(r, run));
  out.recorded_searches_enough =
      std::all_of(marks.runs.begin(), marks.runs.end(), [](const auto& r) { return r.both_seen; });
  out.known = true;
  return out;
}

}  // namespace evenbeam::homing
