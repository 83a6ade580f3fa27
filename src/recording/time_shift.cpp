#include "recording/time_shift.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "math/least_squares.h"

namespace evenbeam::recording {
namespace {

struct Sample {
  double speed_m_per_s, acceleration_m_per_s2, skew_m;
};

// Every `stride`-th sample with its speed and acceleration; samples beside missing ones are left out.
std::vector<Sample> samples_of(const Recording& r) {
  const auto half = std::max<std::size_t>(2, static_cast<std::size_t>(std::lround(0.01 / r.period_s)));
  const double span_s = static_cast<double>(half) * r.period_s;
  const std::size_t n = r.position_a_m.size();
  const std::size_t stride = std::max<std::size_t>(1, n / 5000);  // more samples would not be more independent
  const auto mean = [&](std::size_t k) { return 0.5 * (r.position_a_m[k] + r.position_b_m[k]); };
  std::vector<Sample> samples;
  for (std::size_t k = half; k + half < n; k += stride) {
    const double before = mean(k - half), here = mean(k), after = mean(k + half);
    const Sample s{(after - before) / (2 * span_s), (after - 2 * here + before) / (span_s * span_s),
                   r.position_a_m[k] - r.position_b_m[k]};
    if (std::isfinite(s.speed_m_per_s) && std::isfinite(s.acceleration_m_per_s2)) samples.push_back(s);
  }
  return samples;
}

struct Fit {
  bool solved = false;
  double per_speed_s = 0, model_error_s = 0, coulomb_m = 0;
};

// direction 0: both ways with a sign column; +1, -1: that way alone.
Fit fit(const std::vector<Sample>& samples, double slowest, int direction) {
  math::RowFolder folder(direction == 0 ? 4 : 3);
  for (const Sample& s : samples) {
    const double v = s.speed_m_per_s;
    if (std::abs(v) < slowest || v * direction < 0) continue;
    const double both[] = {1, v, s.acceleration_m_per_s2, v > 0 ? 1.0 : -1.0};
    folder.add({both, direction == 0 ? 4u : 3u}, s.skew_m);
  }
  const auto result = folder.solve();
  Fit fitted;
  if (result.state != math::FitState::solved || result.degrees_of_freedom < 50) return fitted;
  fitted.solved = true;
  fitted.per_speed_s = result.coefficients[1];
  // standard error * sqrt(degrees of freedom) = rms(residual) / rms(own part of v)
  fitted.model_error_s = 2 * result.standard_errors[1] * std::sqrt(static_cast<double>(result.degrees_of_freedom));
  fitted.coulomb_m = direction == 0 ? std::abs(result.coefficients[3]) : 0;
  return fitted;
}

// position_b(t - late): linear between samples; NaN where a neighbour is missing. The first or last samples, for
// which there is none, become NaN.
std::vector<double> moved(const std::vector<double>& x, double late_s, double period_s) {
  std::vector<double> at_a(x.size(), std::numeric_limits<double>::quiet_NaN());
  for (std::size_t k = 0; k < x.size(); ++k) {
    const double place = static_cast<double>(k) - late_s / period_s;
    const double below = std::floor(place);
    const double part = place - below;
    if (below < 0 || below + (part > 0 ? 1 : 0) > static_cast<double>(x.size() - 1)) continue;
    const auto i = static_cast<std::size_t>(below);
    at_a[k] = part > 0 ? x[i] + part * (x[i + 1] - x[i]) : x[i];
  }
  return at_a;
}

void remove_shift(Recording& r, double late_s) {
  r.position_b_m = moved(r.position_b_m, late_s, r.period_s);
  r.b_late_s = late_s;
}

const char* later_or_earlier(double late_s) { return late_s > 0 ? "later" : "earlier"; }

base::Finding finding_of(const Recording& r, const TimeShift& shift) {
  base::Finding f;
  f.recording = r.name;
  f.value = shift.b_late_s;
  f.unit = "s";
  f.lower = shift.b_late_s - shift.half_width_s;
  f.upper = shift.b_late_s + shift.half_width_s;
  f.source = "skew fitted against speed and acceleration";
  const double late_ms = 1e3 * std::abs(shift.b_late_s), half_ms = 1e3 * shift.half_width_s;
  const double false_mm = 1e3 * std::abs(shift.b_late_s) * shift.top_speed_m_per_s;
  if (shift.proven) {
    f.id = "import_time_shift";
    f.verdict = base::Verdict::attention;
    f.text = fmt::format(
        "B's position is sampled {:.3g} ms {} than A's (within {:.2g} ms), which feigns {:.3g} mm of skew at {:.3g} "
        "m/s; it was moved back by interpolation.",
        late_ms, later_or_earlier(shift.b_late_s), half_ms, false_mm, shift.top_speed_m_per_s);
    f.next = "Record both sides in the same cycle; where the shift is known, write b_late into recordings.toml.";
  } else if (std::abs(shift.b_late_s) > shift.half_width_s && std::abs(shift.b_late_s) > 0.1 * r.period_s) {
    f.id = "import_time_shift_suspected";
    f.verdict = base::Verdict::attention;
    f.text = fmt::format(
        "Part of the skew goes with the speed: B sampled {:.2g} ms {} than A (within {:.2g} ms), {:.2g} mm at {:.3g} "
        "m/s, or a true skew; this recording cannot tell which. Nothing was corrected.",
        late_ms, later_or_earlier(shift.b_late_s), half_ms, false_mm, shift.top_speed_m_per_s);
    f.next =
        "Ask how both positions reach the recorder, or record the same move with both sides on one bus; write "
        "b_late = \"0 ms\" (or the known shift) into recordings.toml.";
  } else {
    const double hidden_s = shift.half_width_s + std::abs(shift.b_late_s);
    const bool tells = hidden_s < 5 * r.period_s;
    f.id = tells ? "import_time_shift_bound" : "import_time_shift_unknown";
    f.verdict = base::Verdict::pass;
    f.text = fmt::format("{}; one within {:.2g} ms could hide, {:.2g} mm of skew at {:.3g} m/s.",
                         tells ? "No time shift between the sides is seen"
                               : "Whether the sides are sampled together cannot be told from this recording",
                         1e3 * hidden_s, 1e3 * hidden_s * shift.top_speed_m_per_s, shift.top_speed_m_per_s);
    if (!tells) f.next = "A faster move there and back, with ramps, would tell.";
  }
  return f;
}

void remove_stated(Recording& r, double stated_s) {
  if (stated_s == 0) return;
  remove_shift(r, stated_s);
  base::Finding f;
  f.id = "import_time_shift";
  f.verdict = base::Verdict::pass;
  f.text = fmt::format("B's position was moved by {:.4g} ms, the shift stated in recordings.toml.", 1e3 * stated_s);
  f.value = stated_s;
  f.unit = "s";
  f.source = "recordings.toml";
  f.recording = r.name;
  r.findings.push_back(f);
}

}  // namespace

TimeShift estimate_time_shift(const Recording& r) {
  TimeShift shift;
  if (!has_positions(r)) return shift;
  const std::vector<Sample> samples = samples_of(r);
  double forward = 0, backward = 0;
  for (const Sample& s : samples) {
    forward = std::max(forward, s.speed_m_per_s);
    backward = std::max(backward, -s.speed_m_per_s);
  }
  shift.top_speed_m_per_s = std::max(forward, backward);
  // Where a whole sample of shift would feign less than five counts there is nothing to find.
  if (shift.top_speed_m_per_s * r.period_s < 5 * std::max({r.count_a_m, r.count_b_m, 1e-9})) return shift;
  const double slowest = 0.05 * shift.top_speed_m_per_s;
  shift.both_ways = std::min(forward, backward) > 0.3 * shift.top_speed_m_per_s;
  const Fit all = fit(samples, slowest, shift.both_ways ? 0 : forward > backward ? 1 : -1);
  if (!all.solved) return shift;
  shift.estimated = true;
  shift.b_late_s = -all.per_speed_s;
  shift.half_width_s = all.model_error_s + all.coulomb_m / shift.top_speed_m_per_s;
  if (!shift.both_ways) return shift;
  const Fit ahead = fit(samples, slowest, 1), back = fit(samples, slowest, -1);
  if (!ahead.solved || !back.solved) return shift;
  shift.forward_s = -ahead.per_speed_s;
  shift.backward_s = -back.per_speed_s;
  const double late = std::abs(shift.b_late_s);
  const auto agrees = [&](double way_s) { return std::abs(way_s - shift.b_late_s) <= shift.half_width_s; };
  shift.proven =
      late > 2 * shift.half_width_s && late > 0.1 * r.period_s && agrees(shift.forward_s) && agrees(shift.backward_s);
  return shift;
}

void settle_time_shift(Recording& r, const std::optional<double>& stated_s) {
  if (!has_positions(r)) return;
  if (stated_s) return remove_stated(r, *stated_s);
  const TimeShift shift = estimate_time_shift(r);
  if (!shift.estimated) return;
  r.findings.push_back(finding_of(r, shift));
  if (shift.proven) remove_shift(r, shift.b_late_s);
}

}  // namespace evenbeam::recording
