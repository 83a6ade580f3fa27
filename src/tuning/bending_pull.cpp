#include "tuning/bending_pull.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "dynamics/beam.h"

namespace evenbeam::tuning {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();
constexpr int kCells = 512, kPieces = 8;  // of x from mid-span to an end; of the half roots
constexpr double kRounding = 1e-9;        // far above that of the few operations between here and a result

Span widened(double low, double high) {
  const double by = kRounding * std::max(std::abs(low), std::abs(high));
  return {low - by, high + by};
}
Span operator+(Span p, Span q) { return widened(p.low + q.low, p.high + q.high); }
Span operator-(Span p) { return {-p.high, -p.low}; }
Span operator-(Span p, Span q) { return p + -q; }
Span operator*(Span p, Span q) {
  const auto [low, high] = std::minmax({p.low * q.low, p.low * q.high, p.high * q.low, p.high * q.high});
  return widened(low, high);
}
Span operator/(Span p, Span q) {
  if (q.low <= 0 && q.high >= 0) return {-kInfinite, kInfinite};
  return p * widened(1 / q.high, 1 / q.low);
}
// Of angles from 0 to pi: the cosine falls, the sine has its top at pi/2. Of nothing negative cosh and sinh grow.
Span cosine(Span x) { return widened(std::cos(x.high), std::cos(x.low)); }
Span sine(Span x) {
  const bool top = x.low < std::numbers::pi / 2 && x.high > std::numbers::pi / 2;
  const double p = std::sin(x.low), q = std::sin(x.high);
  return widened(std::min(p, q), top ? 1 : std::max(p, q));
}
Span cosh_of(Span x) { return widened(std::cosh(x.low), std::cosh(x.high)); }
Span sinh_of(Span x) { return widened(std::sinh(x.low), std::sinh(x.high)); }
Span point(double x) { return {x, x}; }

// phi = u/(1 + r), u = cos xa + r cosh xa, r = cos a/cosh a, so that u(1) = 2 cos a, and with r' = dr/da
//   phi_a(x)/phi_a(1) = (u_a(x) (1 + r) - u(x) r')/(u_a(1) (1 + r) - u(1) r'),   phi(x)/phi(1) = u(x)/u(1)
//   u_a(x) = r' cosh xa - x (sin xa - r sinh xa),   u_a(1) = -2 sin a,   r' = -(sin a + r sinh a)/cosh a
Span pull_over(Span x, Span a) {
  const Span xa = x * a, r = cosine(a) / cosh_of(a), one = point(1), two = point(2);
  const Span slope = -((sine(a) + r * sinh_of(a)) / cosh_of(a));
  const Span u = cosine(xa) + r * cosh_of(xa), end = two * cosine(a);
  const Span moved = slope * cosh_of(xa) - x * (sine(xa) - r * sinh_of(xa)), end_moved = -(two * sine(a));
  return (moved * (one + r) - u * slope) / (end_moved * (one + r) - end * slope) - u / end;
}

}  // namespace

double bending_pull(double end_shape, double span_m, double y_m) {
  const double a = dynamics::bending_shape(end_shape, span_m).half_root, x = 2 * std::abs(y_m) / span_m;
  const double r = std::cos(a) / std::cosh(a), slope = -(std::sin(a) + r * std::sinh(a)) / std::cosh(a);
  const double u = std::cos(x * a) + r * std::cosh(x * a), end = 2 * std::cos(a);
  const double moved = slope * std::cosh(x * a) - x * (std::sin(x * a) - r * std::sinh(x * a));
  return (moved * (1 + r) - u * slope) / (-2 * std::sin(a) * (1 + r) - end * slope) - u / end;
}

PullRange::PullRange(Span end_shapes, double span_m) : span_m_(span_m), cells_(kCells, {-kInfinite, kInfinite}) {
  if (!(end_shapes.high < 0)) return;
  const Span a = widened(dynamics::bending_shape(end_shapes.high, span_m).half_root,
                         dynamics::bending_shape(end_shapes.low, span_m).half_root);
  for (int i = 0; i < kCells; ++i) {
    const Span x = widened(double(i) / kCells, double(i + 1) / kCells);
    Span& cell = cells_[static_cast<size_t>(i)];
    cell = {kInfinite, -kInfinite};
    for (int k = 0; k < kPieces; ++k) {
      const double width = (a.high - a.low) / kPieces;
      const Span here =
          pull_over({std::max(0.0, x.low), x.high}, widened(a.low + k * width, a.low + (k + 1) * width));
      cell = {std::min(cell.low, here.low), std::max(cell.high, here.high)};
    }
  }
}

Span PullRange::over(Span y_m) const {
  const double far = 2 * std::max(std::abs(y_m.low), std::abs(y_m.high)) / span_m_;
  const double near =
      y_m.low <= 0 && y_m.high >= 0 ? 0 : 2 * std::min(std::abs(y_m.low), std::abs(y_m.high)) / span_m_;
  // Cells overlap by some rounding, so that it does not matter on which side of an edge a place falls.
  const auto cell = [&](double x) { return std::clamp(static_cast<int>(x * kCells), 0, kCells - 1); };
  if (far > 1 + kRounding) return {-kInfinite, kInfinite};
  Span out{kInfinite, -kInfinite};
  for (int i = cell(near); i <= cell(far); ++i) {
    const Span& here = cells_[static_cast<size_t>(i)];
    out = {std::min(out.low, here.low), std::max(out.high, here.high)};
  }
  return out;
}

}  // namespace evenbeam::tuning
