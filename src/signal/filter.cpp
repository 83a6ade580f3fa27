#include "signal/filter.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "base/check.h"

namespace evenbeam::signal {
namespace {

using std::numbers::pi;

// Kernels h, h', h'' at t = 0, T, 2T ... (even, odd, even). Their moments are set exactly, so that a parabola comes
// out as itself: sum h = 1; sum -t h' = 1; sum h'' = 0, sum t^2 h'' / 2 = 1; sum t^2 h keeps its value sigma^2.
struct Kernel {
  std::vector<double> value, first, second;
};

double sum_even(const std::vector<double>& kernel, double period_s, int power) {
  double sum = power == 0 ? kernel[0] : 0.0;
  for (std::size_t i = 1; i < kernel.size(); ++i)
    sum += 2 * kernel[i] * std::pow(static_cast<double>(i) * period_s, power);
  return sum;
}

Kernel make_kernel(double period_s, double bandwidth_hz) {
  base::check(period_s > 0 && bandwidth_hz > 0 && bandwidth_hz * period_s < 1.0 / 6,
              "smoothing: bandwidth above 0 and below a sixth of the sample rate", {bandwidth_hz, period_s});
  // |H| = exp(-(2 pi f sigma)^2 / 2) = 1/sqrt(2) at the bandwidth.
  const double sigma = std::sqrt(std::numbers::ln2) / (2 * pi * bandwidth_hz);
  const auto half = static_cast<std::size_t>(std::ceil(6 * sigma / period_s));
  Kernel k;
  for (std::size_t i = 0; i <= half; ++i) {
    const double t = static_cast<double>(i) * period_s, s2 = sigma * sigma;
    const double bell = std::exp(-0.5 * t * t / s2);
    k.value.push_back(bell);
    k.first.push_back(-t * bell);
    k.second.push_back((t * t / s2 - 1) * bell);
  }
  const double area = sum_even(k.value, period_s, 0), moment = sum_even(k.first, period_s, 1);
  // h'' = c1 (shape - c0 bell): no answer to a constant, unit answer to t^2 / 2.
  const double c0 = sum_even(k.second, period_s, 0) / area;
  const double curvature = sum_even(k.second, period_s, 2) - c0 * sum_even(k.value, period_s, 2);
  for (std::size_t i = 0; i <= half; ++i) {
    k.second[i] = 2 * (k.second[i] - c0 * k.value[i]) / curvature;
    k.value[i] /= area;
    k.first[i] /= -moment;
  }
  return k;
}

// out[n] = sum_i kernel(i) x[n - i], kernel even or odd. Direct: the kernels are short.
double convolve(const double* x, const std::vector<double>& kernel, bool odd) {
  double sum = odd ? 0.0 : kernel[0] * x[0];
  const auto width = static_cast<std::ptrdiff_t>(kernel.size());
  for (std::ptrdiff_t i = 1; i < width; ++i)
    sum += kernel[static_cast<std::size_t>(i)] * (odd ? x[-i] - x[i] : x[-i] + x[i]);
  return sum;
}

// Marks samples that have the whole kernel's width of finite samples around them.
std::vector<char> covered(std::span<const double> samples, std::size_t half_width) {
  std::vector<char> good(samples.size(), 0);
  std::size_t run = 0;
  for (std::size_t n = 0; n < samples.size(); ++n) {
    run = std::isfinite(samples[n]) ? run + 1 : 0;
    if (run >= 2 * half_width + 1) good[n - half_width] = 1;
  }
  return good;
}

}  // namespace

Biquad notch(double hz, double numerator_damping, double denominator_damping, double period_s) {
  base::check(period_s > 0 && hz > 0 && hz * period_s < 0.5, "notch: frequency below half the sample rate",
              {hz, period_s});
  base::check(numerator_damping >= 0 && denominator_damping > 0, "notch: dampings",
              {numerator_damping, denominator_damping});
  const double k = std::tan(pi * hz * period_s), k2 = k * k;
  const double a0 = 1 + 2 * denominator_damping * k + k2;
  const double middle = 2 * (k2 - 1) / a0;
  return {(1 + 2 * numerator_damping * k + k2) / a0, middle, (1 - 2 * numerator_damping * k + k2) / a0, middle,
          (1 - 2 * denominator_damping * k + k2) / a0};
}

Biquad quality_notch(double hz, double quality, double period_s) {
  base::check(quality > 0 && hz * period_s < 0.5 * quality, "notch: width below half the sample rate", {hz, quality});
  return notch(hz, 0, std::tan(pi * hz * period_s / quality) / std::sin(2 * pi * hz * period_s), period_s);
}

double step(const Biquad& f, BiquadState& s, double u) {
  const double y = f.b0 * u + s.z1;
  s.z1 = f.b1 * u - f.a1 * y + s.z2;
  s.z2 = f.b2 * u - f.a2 * y;
  return y;
}

std::complex<double> response(const Biquad& f, double hz, double period_s) {
  const std::complex<double> d = std::polar(1.0, -2 * pi * hz * period_s);
  return (f.b0 + d * (f.b1 + d * f.b2)) / (1.0 + d * (f.a1 + d * f.a2));
}

Smoothed smooth_derivatives(std::span<const double> samples, double period_s, double bandwidth_hz) {
  const Kernel kernel = make_kernel(period_s, bandwidth_hz);
  Smoothed out;
  out.half_width = kernel.value.size() - 1;
  out.value.assign(samples.size(), std::numeric_limits<double>::quiet_NaN());
  out.first = out.second = out.value;
  const auto good = covered(samples, out.half_width);
  std::vector<double> window(2 * out.half_width + 1);
  for (std::size_t n = 0; n < samples.size(); ++n) {
    if (!good[n]) continue;
    // About the middle sample, so that a large position does not eat the digits of a small change.
    for (std::size_t i = 0; i < window.size(); ++i) window[i] = samples[n + i - out.half_width] - samples[n];
    const double* middle = window.data() + out.half_width;
    out.value[n] = samples[n] + convolve(middle, kernel.value, false);
    out.first[n] = convolve(middle, kernel.first, true);
    out.second[n] = convolve(middle, kernel.second, false);
  }
  return out;
}

std::vector<double> smooth(std::span<const double> samples, double period_s, double bandwidth_hz) {
  const Kernel kernel = make_kernel(period_s, bandwidth_hz);
  std::vector<double> out(samples.size(), std::numeric_limits<double>::quiet_NaN());
  const auto good = covered(samples, kernel.value.size() - 1);
  for (std::size_t n = 0; n < samples.size(); ++n)
    if (good[n]) out[n] = convolve(samples.data() + n, kernel.value, false);
  return out;
}

}  // namespace evenbeam::signal
