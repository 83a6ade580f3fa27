#pragma once
// How the response of one coordinate's law changes with each of its settings, for searches that follow a slope:
//   d ln C_q / d ln x,  C_q of servo/law_response.h at z = exp(j w T)
// Derived here from its factors: with phi = T/Ti, zeta = z/(z - 1), alpha = 1 - exp(-2 pi f_v T), t = tan(pi f T)
//   Kv: 1      Ti: -phi zeta/(1 + phi zeta)      Kp: Kp/(Kp + V)
//   f_v: (dV/dalpha) (1 - alpha) 2 pi f_v T/(Kp + V),   dV/dalpha = (z - 1)^2/(T (z - 1 + alpha)^2)
//   biquad N/D, N = (z - 1)^2 + 2 zn t (z^2 - 1) + t^2 (z + 1)^2, D the same with zd:
//   zn: 2 zn t (z^2 - 1)/N,  zd: -2 zd t (z^2 - 1)/D,  f: (t N'/N - t D'/D) 2 pi f T/sin(2 pi f T), ' by t
// Assumes all settings > 0.
#include <array>
#include <complex>

#include "machine/settings.h"
#include "servo/coordinate.h"

namespace evenbeam::servo {

struct ResponseSlopes {
  std::complex<double> response;  // C_q, newtons per metre
  int count = 0;
  // In this order: velocity gain, integral, position gain, velocity filter; frequency, zn, zd of each filter.
  std::array<std::complex<double>, 4 + 3 * most_filters> slope{};
};
ResponseSlopes response_slopes(const machine::CoordinateLoop& loop, double period_s, double angular_rad_per_s);

}  // namespace evenbeam::servo
