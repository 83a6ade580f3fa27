#include "math/loop_margins.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"

namespace evenbeam::math {
namespace {

struct Segment {
  double from = 0, to = 0;
  Complex begin, end;
  Complex at(double part) const { return begin + part * (end - begin); }
  double frequency(double part) const {
    return from > 0 ? from * std::pow(to / from, part) : from + part * (to - from);
  }
};

void meet_gain(LoopMargins& out, const Segment& s) {
  const double a = s.begin.imag(), b = s.end.imag();
  if ((a > 0) == (b > 0)) return;
  const double part = a / (a - b), real = s.at(part).real();
  if (!(real < 0)) return;
  const double factor = -1 / real;
  if (factor >= 1 && factor < out.gain_up) out.gain_up = factor, out.gain_up_at = s.frequency(part);
  if (factor < 1 && factor > out.gain_down) out.gain_down = factor;
}

void meet_phase(LoopMargins& out, const Segment& s) {
  if ((std::abs(s.begin) > 1) == (std::abs(s.end) > 1)) return;
  double low = 0, high = 1;
  const bool rising = std::abs(s.end) > 1;
  for (int i = 0; i < 50; ++i) {
    const double middle = (low + high) / 2;
    ((std::abs(s.at(middle)) > 1) == rising ? high : low) = middle;
  }
  const double phase = std::abs(std::arg(-s.at(low)));
  if (phase < out.phase_rad) out.phase_rad = phase, out.phase_at = s.frequency(low);
}

// Least of a convex-like function on the two segments beside its least line.
template <class Value>
void refine(const std::vector<double>& w, const std::vector<Complex>& l, Value value, double& least, double& at) {
  size_t best = 0;
  for (size_t i = 1; i < w.size(); ++i)
    if (value(l[i]) < value(l[best])) best = i;
  least = value(l[best]), at = w[best];
  for (size_t i : {best > 0 ? best - 1 : best, best}) {
    if (i + 1 >= w.size()) continue;
    const Segment s{w[i], w[i + 1], l[i], l[i + 1]};
    for (int k = 1; k < 64; ++k)
      if (value(s.at(k / 64.0)) < least) least = value(s.at(k / 64.0)), at = s.frequency(k / 64.0);
  }
}

}  // namespace

LoopMargins loop_margins(const std::vector<double>& w, const std::vector<Complex>& l) {
  base::check(w.size() == l.size(), "as many values as lines", {double(w.size()), double(l.size())});
  LoopMargins out;
  if (w.empty()) return out;
  for (size_t i = 0; i + 1 < w.size(); ++i) {
    const Segment s{w[i], w[i + 1], l[i], l[i + 1]};
    meet_gain(out, s);
    meet_phase(out, s);
  }
  refine(
      w, l, [](Complex x) { return std::abs(1.0 + x); }, out.distance, out.distance_at);
  refine(
      w, l, [](Complex x) { return 1 / std::abs(1.0 / (1.0 + x) - 0.5); }, out.disk, out.disk_at);
  return out;
}

DiskRange disk_range(double alpha) {
  DiskRange out{.phase_rad = 2 * std::atan(alpha / 2)};
  out.gain_low = std::max(0.0, (2 - alpha) / (2 + alpha));
  if (alpha < 2) out.gain_high = (2 + alpha) / (2 - alpha);
  return out;
}

double structured_value(const Complex2x2& m) {
  const double sum = std::norm(m.aa) + std::norm(m.bb) + 2 * std::abs(m.ab) * std::abs(m.ba);
  const double product = std::abs(determinant(m)), half = sum / 2;
  return std::sqrt(half + std::sqrt(std::max(half * half - product * product, 0.0)));
}

}  // namespace evenbeam::math
