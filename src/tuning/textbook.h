#pragma once
// Gains of one coordinate by the symmetrical optimum [Kessler 1958, from memory]: a velocity loop with PI on mass m
// and the sum T of all small lags,
//   L = Kv (1 + 1/(Ti s)) / (m s (1 + T s)),   Kv = m/(a T),  Ti = a^2 T,  crossover 1/(a T)
// phase margin asin((a^2-1)/(a^2+1)); a > 1 stretches the loop: larger is slower and more robust.
// Position gain Kp = 1/(4 a T): a quarter of the crossover (common practice, no source).
#include "machine/settings.h"

namespace evenbeam::tuning {

inline machine::CoordinateLoop symmetrical_optimum(double mass_kg, double stretch, double lag_s) {
  machine::CoordinateLoop loop;
  loop.velocity_gain_n_s_per_m = mass_kg / (stretch * lag_s);
  loop.velocity_integral_s = stretch * stretch * lag_s;
  loop.position_gain_per_s = 1 / (4 * stretch * lag_s);
  return loop;
}

}  // namespace evenbeam::tuning
