#include "tuning/certificate_ball.h"

#include <cmath>
#include <limits>

namespace evenbeam::tuning {

Ball ball(Span s) { return {(s.low + s.high) / 2, 0, (s.high - s.low) / 2}; }
Ball product(const Ball& a, const Ball& b, double away) {
  return {a.middle * b.middle, a.middle * b.slope + a.slope * b.middle,
          std::abs(a.slope) * std::abs(b.slope) * away * away + a.radius * b.largest(away) +
              b.radius * (a.largest(away) - a.radius)};
}
Ball sum(const Ball& a, const Ball& b) { return {a.middle + b.middle, a.slope + b.slope, a.radius + b.radius}; }
Ball times(double factor, const Ball& a) {
  return {factor * a.middle, factor * a.slope, std::abs(factor) * a.radius};
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
// E(-jX exp(-jwX)) and its second derivative at most E X^2. Doubt of delay and lag: |d path| <= w |d delay| + ...
Ball path_ball(double w, double away, Span delay, Span lag, double period) {
  const double d = (delay.low + delay.high) / 2, l = (lag.low + lag.high) / 2, half = w * period / 2;
  const double sinc = half > 1e-6 ? std::sin(half) / half : 1;
  const double sinc_slope = half > 1e-6 ? (std::cos(half) - sinc) / w : 0;  // d sinc / dw
  const Complex turn = std::polar(1.0, -w * (d + period / 2)), lagging = 1.0 / Complex(1, w * l);
  const Complex value = turn * sinc * lagging;
  const Complex slope =
      value * (Complex(0, -(d + period / 2)) - Complex(0, l) * lagging) + turn * sinc_slope * lagging;
  const double mean = d + period / 2 + l, square = mean * mean + period * period / 12 + l * l;
  const double doubt = (w + away) * ((delay.high - delay.low) / 2 + (lag.high - lag.low) / 2);
  return {value, slope, square * away * away / 2 + doubt};
}

}  // namespace evenbeam::tuning
