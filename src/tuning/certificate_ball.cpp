#include "tuning/certificate_ball.h"

#include <cmath>
#include <limits>

namespace evenbeam::tuning {

Ball ball(Span s) { return {(s.low + s.high) / 2, 0, (s.high - s.low) / 2}; }
Ball product(const Ball& a, const Ball& b, double away) {
  Ball out{a.middle * b.middle, a.middle * b.slope + a.slope * b.middle};
  out.joint = a.joint * std::abs(b.middle) + std::abs(a.middle) * b.joint;
  out.radius = std::abs(a.slope) * std::abs(b.slope) * away * away + a.radius * b.largest(away) +
               b.radius * (a.largest(away) - a.radius) + a.joint * (std::abs(b.slope) * away + b.joint) +
               std::abs(a.slope) * away * b.joint;
  return out;
}
Ball sum(const Ball& a, const Ball& b) {
  return {a.middle + b.middle, a.slope + b.slope, a.radius + b.radius, a.joint + b.joint};
}
Ball times(double factor, const Ball& a) {
  const double size = std::abs(factor);
  return {factor * a.middle, factor * a.slope, size * a.radius, size * a.joint};
}

namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

// A product of ratios of polynomials in z of degree two at most, about z0: f = f0 (1 + line (z - z0) + rest). With
// x = |z - z0| the rest is at most what the same product gives with all coefficients made positive (a majorant
// series).
struct Ratio {
  Complex value = 1, line = 0;
  double major = 1, major_slope = 0;
  void times(double b0, double b1, double b2, double a0, double a1, double a2, Complex z, double x) {
    const Complex above = (b0 * z + b1) * z + b2, below = (a0 * z + a1) * z + a2;
    const Complex up = (2.0 * b0 * z + b1) / above, down = (2.0 * a0 * z + a1) / below;
    const double up2 = std::abs(b0 / above), down2 = std::abs(a0 / below);
    value *= above / below;
    line += up - down;
    const double rest = std::abs(down) * x + down2 * x * x;
    major *= rest < 1 ? (1 + std::abs(up) * x + up2 * x * x) / (1 - rest) : kInfinite;
    major_slope += std::abs(up) + std::abs(down);
  }
};

}  // namespace

// C_q times its integral's (z - 1), so that it is finite at rest.
Ball law_ball(const servo::CoordinateLaw& law, Complex z, double away) {
  Ratio r;
  const double x = away * law.period_s;  // |exp(jwT) - z0| <= x, and z - z0 = j T z0 (w - w0) but for x^2/2
  const double kp = law.position_gain_per_s, alpha = law.filter_factor, gain = alpha * law.difference_factor;
  r.times(0, kp + gain, -kp * (1 - alpha) - gain, 0, 1, -(1 - alpha), z, x);
  if (law.integral_factor > 0) r.times(0, 1 + law.integral_factor, -1, 0, 0, 1, z, x);
  for (int i = 0; i < law.filter_count; ++i) {
    const servo::BiquadLaw& f = law.filters[static_cast<size_t>(i)];
    r.times(f.b0, f.b1, f.b2, 1, f.a1, f.a2, z, x);
  }
  const Complex middle = law.velocity_gain * r.value;
  return {middle, middle * r.line * Complex(0, law.period_s) * z,
          std::abs(middle) * (r.major - 1 - r.major_slope * x + std::abs(r.line) * x * x / 2)};
}

// Delay, current lag and hold: path(w) = E exp(-jwX), X = delay + even(0..T) + exponential(lag), so that its slope is
// E(-jX exp(-jwX)) and its second derivative at most E X^2.
// Doubt: let delay and lag move along a straight line by d and l. With u = wl/(1 + jwl) (l the lag),
//   d log path = -jw (d + l) + jw l (jwl/(1 + jwl)),   d^2 log path = -w^2 l^2/(1 + jwl)^2,
// so that path is off its tangent by at most w^2 ((|d + l| + |l| k)^2 + l^2 n^2)/2 |path|, k and n the largest
// wl/|1 + jwl| and 1/|1 + jwl|; the tangent itself moves over the box by at most away (d (1 + wEX) + l (1 + wEX +
// wl)).
Path path_ball(double w, double away, const Delays& of, double period) {
  const double d = of.delay_s, l = of.lag_s, half = w * period / 2, top = w + away;
  const double sinc = half > 1e-6 ? std::sin(half) / half : 1;
  const double sinc_slope = half > 1e-6 ? (std::cos(half) - sinc) / w : 0;  // d sinc / dw
  const Complex turn = std::polar(1.0, -w * (d + period / 2)), lagging = 1.0 / Complex(1, w * l);
  Path out;
  const Complex value = turn * sinc * lagging;
  out.ball.middle = value;
  out.ball.slope = value * (Complex(0, -(d + period / 2)) - Complex(0, l) * lagging) + turn * sinc_slope * lagging;
  const double mean = d + period / 2 + l, square = mean * mean + period * period / 12 + l * l;
  out.by_delay = Complex(0, -w) * value * of.delay_slope;
  out.by_lag = Complex(0, -w) * value * lagging * of.lag_slope;
  out.ball.joint = std::abs(out.by_delay) * of.delay_reach + std::abs(out.by_lag) * of.lag_reach;
  const double delay = std::abs(of.delay_slope) * of.delay_reach, lag = std::abs(of.lag_slope) * of.lag_reach;
  const double bent = top * (of.delay_rest_s + of.lag_rest_s);  // beyond the tangent in p
  const double k = top * of.lag_high_s / std::hypot(1, top * of.lag_high_s);
  const double n = 1 / std::hypot(1, (w - away) * of.lag_low_s), lag_off = lag + of.lag_rest_s;
  const double curve = top * top / 2 * (std::pow(of.together_s + lag_off * k, 2) + std::pow(lag_off * n, 2));
  const double tangent = away * (delay * (1 + top * mean) + lag * (1 + top * mean + top * l));
  out.ball.radius = square * away * away / 2 + bent + curve * n + tangent;
  return out;
}

}  // namespace evenbeam::tuning
