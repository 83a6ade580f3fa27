#pragma once
// Rational function with common poles through a measured 2x2 response:
//   H(s) ~ D + sum_k R_k / (s - p_k)      (conjugate pairs kept together, D real),
// by relaxed vector fitting: with the poles of the last round, solve  w (D + sum R/(s - p)) = w H sigma(s),
// sigma = d + sum c/(s - p), for all four entries together; the zeros of sigma are the next poles. Unstable ones are
// mirrored. Finally D and R by weighted least squares with the poles held.
// Sources: Gustavsen and Semlyen 1999; Gustavsen 2006 (relaxation); Deschrijver et al. 2008 (QR entry by entry).
#include <array>
#include <vector>

#include "math/complex2x2.h"

namespace evenbeam::signal {

struct RationalData {
  std::vector<double> omega_rad_per_s;
  std::vector<math::Complex2x2> h;
  std::vector<std::array<double, 4>> weight;  // of aa, ab, ba, bb; > 0
};

struct RationalModel {
  std::vector<math::Complex> poles;        // rad/s; real, or the one of a pair with positive imaginary part
  std::vector<math::Complex2x2> residues;  // of those
  math::Complex2x2 direct;                 // D, real
  double error = 0;                        // root of the mean of |weight (model - h)|^2
};

math::Complex2x2 evaluate(const RationalModel& model, double omega_rad_per_s);

// Pairs of poles, evenly spaced on a logarithmic scale over the data's band, with 1 % damping.
std::vector<math::Complex> starting_poles(const RationalData& data, std::size_t pairs);

RationalModel fit_rational(const RationalData& data, std::vector<math::Complex> poles, int rounds);

// Residues and D for given poles.
RationalModel fit_residues(const RationalData& data, std::vector<math::Complex> poles);

}  // namespace evenbeam::signal
