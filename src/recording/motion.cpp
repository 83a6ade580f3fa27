#include "recording/motion.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::recording {
namespace {

// Mean of what is there of two columns.
std::vector<double> mean_of(const std::vector<double>& a, const std::vector<double>& b) {
  if (a.empty()) return b;
  if (b.empty()) return a;
  std::vector<double> mean(a.size());
  for (std::size_t k = 0; k < a.size(); ++k) mean[k] = 0.5 * (a[k] + b[k]);
  return mean;
}

// Central difference over 2 * half samples; 0 at the ends and beside missing samples.
std::vector<double> slope_of(const std::vector<double>& x, std::size_t half, double period_s) {
  std::vector<double> slope(x.size(), 0);
  for (std::size_t k = half; k + half < x.size(); ++k) {
    const double rise = x[k + half] - x[k - half];
    if (std::isfinite(rise)) slope[k] = rise / (2.0 * static_cast<double>(half) * period_s);
  }
  return slope;
}

// Speed even where it changes by less than `tolerance` over 20 ms around.
void measure_evenness(Motion& m, double period_s, double tolerance) {
  const std::size_t half = std::max<std::size_t>(1, static_cast<std::size_t>(0.01 / period_s));
  const auto& v = m.speed_m_per_s;
  std::size_t moving = 0, even_moving = 0, run_from = 0;
  bool running = false;
  for (std::size_t k = half; k + half < v.size(); ++k) {
    const bool even = std::abs(v[k + half] - v[k - half]) < tolerance;
    if (std::abs(v[k]) > 0.05 * m.top_speed_m_per_s) {
      ++moving;
      even_moving += even;
    }
    if (even && !running) run_from = k;
    running = even;
    if (running && k + 1 - run_from > m.even_to - m.even_from) {
      m.even_from = run_from;
      m.even_to = k + 1;
    }
  }
  if (moving > 0) m.even_part = static_cast<double>(even_moving) / static_cast<double>(moving);
}

}  // namespace

Motion motion_of(const Recording& r) {
  Motion m;
  const double count_m = std::max(r.count_a_m, r.count_b_m);
  if (count_m > 0) m.count_m = count_m;
  m.reference_travel_m = std::max(range_of(r.reference_a_m), range_of(r.reference_b_m));
  m.travel_m = std::max(range_of(r.position_a_m), range_of(r.position_b_m));
  const bool by_reference = m.reference_travel_m > 4 * m.count_m;
  const std::vector<double> x =
      by_reference ? mean_of(r.reference_a_m, r.reference_b_m) : mean_of(r.position_a_m, r.position_b_m);
  const std::size_t half =
      std::max<std::size_t>(1, static_cast<std::size_t>((by_reference ? 0.002 : 0.01) / r.period_s));
  m.speed_m_per_s = slope_of(x, half, r.period_s);
  for (double v : m.speed_m_per_s) m.top_speed_m_per_s = std::max(m.top_speed_m_per_s, std::abs(v));
  measure_evenness(m, r.period_s, (by_reference ? 0.02 : 0.05) * m.top_speed_m_per_s);
  return m;
}

double range_of(const std::vector<double>& values) {
  double low = 0, high = 0;
  bool any = false;
  for (double v : values) {
    if (!std::isfinite(v)) continue;
    low = any ? std::min(low, v) : v;
    high = any ? std::max(high, v) : v;
    any = true;
  }
  return high - low;
}

std::vector<double> difference(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> out(std::min(a.size(), b.size()));
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = a[k] - b[k];
  return out;
}

std::size_t last_nonzero(const std::vector<double>& values) {
  for (std::size_t k = values.size(); k-- > 0;)
    if (values[k] != 0 && !std::isnan(values[k])) return k;
  return 0;
}

Pulses pulses_of(const std::vector<double>& force_n) {
  double largest = 0;
  for (double f : force_n) largest = std::max(largest, std::abs(f));
  Pulses pulses;
  std::size_t changes = 0;
  bool was_on = false;
  for (std::size_t k = 0; k < force_n.size(); ++k) {
    const bool on = std::abs(force_n[k]) > 0.05 * largest;
    pulses.count += on && !was_on;
    was_on = on;
    changes += k > 0 && std::abs(force_n[k] - force_n[k - 1]) > 1e-3 * largest;
  }
  pulses.flat = static_cast<double>(changes) < 0.02 * static_cast<double>(force_n.size());
  return pulses;
}

}  // namespace evenbeam::recording
