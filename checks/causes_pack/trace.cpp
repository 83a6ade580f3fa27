#include "trace.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::checks {
namespace {

using Column = std::vector<double>;

double rms(const Column& a, const Column& b) {
  const std::size_t n = std::min(a.size(), b.size());
  double sum = 0;
  for (std::size_t k = 0; k < n; ++k) sum += (a[k] - b[k]) * (a[k] - b[k]);
  return n > 0 ? std::sqrt(sum / static_cast<double>(n)) : 0;
}

Column half_difference(const Column& a, const Column& b) {
  Column out(std::min(a.size(), b.size()));
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = (a[k] - b[k]) / 2;
  return out;
}

Column sum_of(const Column& a, const Column& b) {
  Column out(std::min(a.size(), b.size()));
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = a[k] + b[k];
  return out;
}

double drive_apart(const simulation::RunSeries& b, const simulation::RunSeries& h) {
  const Column broken = sum_of(b.force_a_n, b.force_b_n), healthy = sum_of(h.force_a_n, h.force_b_n);
  const double own = rms(healthy, Column(healthy.size(), 0.0));
  return own > 0 ? rms(broken, healthy) / own : 0;
}

double largest(const Column& a, const Column& b) {
  double out = 0;
  for (std::size_t k = 0; k < std::min(a.size(), b.size()); ++k) {
    const bool seen_a = std::isfinite(a[k]), seen_b = std::isfinite(b[k]);
    if (seen_a && seen_b) out = std::max(out, std::abs(a[k] - b[k]));
  }
  return out;
}

// The last value is the latch, or NaN.
double latch_apart(const Column& a, const Column& b) {
  if (a.empty() || b.empty()) return 0;
  const bool seen_a = std::isfinite(a.back()), seen_b = std::isfinite(b.back());
  if (seen_a != seen_b) return 1;
  return seen_a ? std::abs(a.back() - b.back()) : 0;
}

}  // namespace

Trace trace_of(const std::vector<rehearsal::SimulatedCapture>& broken,
               const std::vector<rehearsal::SimulatedCapture>& healthy, const Measure& m) {
  Trace out;
  for (std::size_t i = 0; i < std::min(broken.size(), healthy.size()); ++i) {
    const auto &b = broken[i].series, &h = healthy[i].series;
    const double reading = std::max(rms(b.position_a_m, h.position_a_m), rms(b.position_b_m, h.position_b_m));
    out.reading_counts = std::max(out.reading_counts, reading / m.count_m);
    const double fight = rms(half_difference(b.force_a_n, b.force_b_n), half_difference(h.force_a_n, h.force_b_n));
    out.fight = std::max(out.fight, fight / m.coulomb_n);
    out.drive = std::max(out.drive, drive_apart(b, h));
    out.skew_m = std::max(
        out.skew_m, 2 * largest(half_difference(b.true_a_m, b.true_b_m), half_difference(h.true_a_m, h.true_b_m)));
    out.command_m = std::max(out.command_m, 2 * largest(half_difference(b.reference_a_m, b.reference_b_m),
                                                        half_difference(h.reference_a_m, h.reference_b_m)));
    out.latch_m = std::max({out.latch_m, latch_apart(broken[i].latched_a_m, healthy[i].latched_a_m),
                            latch_apart(broken[i].latched_b_m, healthy[i].latched_b_m)});
  }
  return out;
}

bool no_trace(const Trace& t, const Measure& m) {
  return t.reading_counts < 1 && t.fight < 0.05 && t.drive < 0.01 && t.latch_m < 3 * m.count_m &&
         t.command_m < m.count_m;
}

bool matters(const Trace& t, const Measure& m) {
  return t.skew_m > 0.1 * m.allowed_skew_m || t.fight > 0.3 || t.drive > 0.1 || t.latch_m > 1e-4;
}

}  // namespace evenbeam::checks
