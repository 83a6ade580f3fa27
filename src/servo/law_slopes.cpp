#include "servo/law_slopes.h"

#include <cmath>
#include <numbers>

namespace evenbeam::servo {

using Complex = std::complex<double>;

ResponseSlopes response_slopes(const machine::CoordinateLoop& loop, double period_s, double w) {
  const double turn = 2 * std::numbers::pi * period_s;
  const Complex z = std::polar(1.0, w * period_s);
  // z - 1 from the half angle keeps digits at low frequency.
  const Complex step = Complex(0, 2 * std::sin(w * period_s / 2)) * std::polar(1.0, w * period_s / 2);
  const double alpha = -std::expm1(-turn * loop.velocity_filter_hz);
  const Complex under = step + alpha, velocity = alpha * step / (period_s * under);
  const Complex rate = loop.position_gain_per_s + velocity;
  const Complex integral = period_s / loop.velocity_integral_s * z / step;
  ResponseSlopes out{.response = loop.velocity_gain_n_s_per_m * rate * (1.0 + integral)};
  out.slope[0] = 1;
  out.slope[1] = -integral / (1.0 + integral);
  out.slope[2] = loop.position_gain_per_s / rate;
  out.slope[3] = step * step / (period_s * under * under) * (1 - alpha) * turn * loop.velocity_filter_hz / rate;
  out.count = 4;
  const Complex both = step * (z + 1.0), sum = (z + 1.0) * (z + 1.0);
  for (const machine::Biquad& f : loop.filters) {
    const double t = std::tan(turn * f.hz / 2), by_hz = turn * f.hz / std::sin(turn * f.hz);
    const Complex rest = step * step + t * t * sum, zero = 2 * f.zn * t * both, pole = 2 * f.zd * t * both;
    const Complex over = rest + zero, below = rest + pole;
    out.response *= over / below;
    out.slope[out.count++] = ((zero + 2 * t * t * sum) / over - (pole + 2 * t * t * sum) / below) * by_hz;
    out.slope[out.count++] = zero / over;
    out.slope[out.count++] = -pole / below;
  }
  return out;
}

}  // namespace evenbeam::servo
