#pragma once
// Notch and low-pass pieces as a controller runs them, and a zero-phase smoother that differentiates.
//
// Biquad, direct form II transposed, period T:  y = b0 u + z1;  z1 = b1 u - a1 y + z2;  z2 = b2 u - a2 y.
// Notch by the bilinear transform, prewarped so that it sits exactly at hz: with K = tan(pi hz T)
//   H(s) = (s^2 + 2 zn w s + w^2) / (s^2 + 2 zd w s + w^2),  s = w (z - 1)/(K (z + 1));
//   zn = 0 is the full notch. The bilinear transform narrows its width, the more so the nearer to half the sample
//   rate; quality_notch() takes that back: -3 dB points exactly hz/Q apart, by zd = tan(pi hz T / Q) / sin(2 pi hz T)
//   (at low frequencies 1/(2 Q)).
//
// Smoothed derivatives: x, x', x'' all with the same symmetric (linear-phase, zero-delay) kernel
//   h(t) = exp(-t^2/(2 sigma^2)) / (sigma sqrt(2 pi)),  |H(f)| = exp(-(f/bandwidth)^2 ln2 / 2), -3 dB at the
//   bandwidth,
// cut at 6 sigma; derivatives use h' and h''. What passes through the same kernel (forces, through smooth()) stays in
// the same relation as before: an equation linear in x, x', x'' and F holds for the smoothed signals too. A line with
// noise stays unbiased in F, not in products of smoothed signals.
// Edges and gaps: a result closer than the kernel's half width to an end or a missing sample is NaN.
#include <complex>
#include <span>
#include <vector>

namespace evenbeam::signal {

struct Biquad {
  double b0 = 1, b1 = 0, b2 = 0, a1 = 0, a2 = 0;  // a0 = 1
};
struct BiquadState {
  double z1 = 0, z2 = 0;
};

// hz in 0 .. half the sample rate, dampings >= 0, zd > 0 (base::check).
Biquad notch(double hz, double numerator_damping, double denominator_damping, double period_s);
Biquad quality_notch(double hz, double quality, double period_s);  // hz/quality below half the sample rate
double step(const Biquad& filter, BiquadState& state, double input);
std::complex<double> response(const Biquad& filter, double hz, double period_s);

struct Smoothed {
  std::vector<double> value, first, second;  // unit, unit/s, unit/s^2; NaN where not known
  std::size_t half_width = 0;                // samples
};
// bandwidth_hz: -3 dB; must lie below a sixth of the sample rate, so that the sampled kernel is the stated one to
// 1e-4.
Smoothed smooth_derivatives(std::span<const double> samples, double period_s, double bandwidth_hz);
std::vector<double> smooth(std::span<const double> samples, double period_s, double bandwidth_hz);

}  // namespace evenbeam::signal
