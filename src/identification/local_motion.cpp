#include "identification/local_motion.h"

#include <cmath>
#include <numbers>

#include "base/check.h"

namespace evenbeam::identification {
namespace {

// Gaussian derivative kernels of order 0..4 on the sample grid, each scaled so that it is exact for its own monomial:
// sum_i k_n(-i) (i T)^n / n! = 1, and free of lower powers (the sampled Gaussian is, to far below rounding of data).
struct Kernels {
  int half = 0;
  std::array<std::vector<double>, 5> k;
};

double moment(const std::vector<double>& kernel, int half, double period_s, int power) {
  double sum = 0;
  for (int i = -half; i <= half; ++i) sum += kernel[static_cast<size_t>(i + half)] * std::pow(i * period_s, power);
  return sum;
}

Kernels kernels(double sigma_s, double period_s, int orders) {
  Kernels out;
  out.half = static_cast<int>(std::ceil(5.5 * sigma_s / period_s));
  const size_t size = static_cast<size_t>(2 * out.half + 1);
  double factorial = 1;
  for (int n = 0; n < orders; ++n) {
    if (n > 0) factorial *= n;
    std::vector<double>& kernel = out.k[static_cast<size_t>(n)];
    kernel.resize(size);
    for (int i = -out.half; i <= out.half; ++i) {
      // weight on the sample i steps after the point: (-1)^n g^(n)(i T) in the convention above
      const double u = i * period_s / sigma_s;
      const double g = std::exp(-u * u / 2);
      const double hermite = n == 0   ? 1
                             : n == 1 ? u
                             : n == 2 ? u * u - 1
                             : n == 3 ? u * u * u - 3 * u
                                      : u * u * u * u - 6 * u * u + 3;
      kernel[static_cast<size_t>(i + out.half)] = hermite * g;
    }
    // The cut tails leave traces of lower powers of the same parity: take them out through the lower kernels.
    for (int lower = n % 2; lower < n; lower += 2) {
      const std::vector<double>& known = out.k[static_cast<size_t>(lower)];
      const double part = moment(kernel, out.half, period_s, lower) / moment(known, out.half, period_s, lower);
      for (size_t i = 0; i < size; ++i) kernel[i] -= part * known[i];
    }
    const double scale = factorial / moment(kernel, out.half, period_s, n);
    for (double& value : kernel) value *= scale;
  }
  return out;
}

double at(const std::vector<double>& kernel, const std::vector<double>& x, size_t first) {
  double sum = 0;
  for (size_t i = 0; i < kernel.size(); ++i) sum += kernel[i] * x[first + i];
  return sum;
}

// tanh(v/width) of every sample, v from a window three times faster; NaN where it does not reach.
std::vector<double> direction(const std::vector<double>& position, double sigma_s, double period_s, double width) {
  const Kernels fast = kernels(sigma_s / 3, period_s, 2);
  std::vector<double> out(position.size(), std::nan(""));
  for (size_t i = 0; i + fast.k[1].size() <= position.size(); ++i)
    out[i + static_cast<size_t>(fast.half)] = std::tanh(at(fast.k[1], position, i) / width);
  return out;
}

// Means of `block` neighbouring samples: a fast first stage that all signals pass alike, so the law stays exact.
// A tenth of the window at most, which leaves nothing near the first alias in the pass band.
std::vector<double> block_means(const std::vector<double>& x, size_t block) {
  std::vector<double> out(x.size() / block);
  for (size_t i = 0; i < out.size(); ++i) {
    double sum = 0;
    for (size_t j = 0; j < block; ++j) sum += x[i * block + j];
    out[i] = sum / static_cast<double>(block);
  }
  return out;
}

}  // namespace

LocalMotion local_motion(const recording::Recording& r, const LocalMotionOptions& options) {
  base::check(has_positions(r) && has_forces(r), "local motion needs positions and forces of both sides");
  base::check(options.bandwidth_hz > 0 && r.period_s > 0, "bandwidth and period are positive",
              {options.bandwidth_hz, r.period_s});
  const double sigma_s = std::sqrt(std::numbers::ln2) / (2 * std::numbers::pi * options.bandwidth_hz);
  const size_t block = static_cast<size_t>(std::max(1.0, std::floor(0.1 * sigma_s / r.period_s)));
  const double period_s = r.period_s * static_cast<double>(block);
  const std::vector<double> time_s = block_means(r.time_s, block);
  const std::vector<double> position_a_m = block_means(r.position_a_m, block);
  const std::vector<double> position_b_m = block_means(r.position_b_m, block);
  const std::vector<double> force_a_n = block_means(r.force_a_n, block);
  const std::vector<double> force_b_n = block_means(r.force_b_n, block);
  const std::vector<double> direction_a = direction(position_a_m, sigma_s, period_s, options.direction_width_m_per_s);
  const std::vector<double> direction_b = direction(position_b_m, sigma_s, period_s, options.direction_width_m_per_s);
  const Kernels window = kernels(sigma_s, period_s, 5);
  const size_t stride = static_cast<size_t>(
      std::max(1.0, std::round(1 / (options.bandwidth_hz * options.points_per_window * period_s))));
  LocalMotion out;
  for (size_t first = 0; first + window.k[0].size() <= time_s.size(); first += stride) {
    const double probe = at(window.k[0], position_a_m, first) + at(window.k[0], position_b_m, first) +
                         at(window.k[0], direction_a, first) + at(window.k[0], direction_b, first) +
                         at(window.k[0], force_a_n, first) + at(window.k[0], force_b_n, first);
    if (!std::isfinite(probe)) continue;
    out.time_s.push_back(time_s[first + static_cast<size_t>(window.half)]);
    for (size_t n = 0; n < 5; ++n) {
      out.a[n].push_back(at(window.k[n], position_a_m, first));
      out.b[n].push_back(at(window.k[n], position_b_m, first));
    }
    out.force_a_n.push_back(at(window.k[0], force_a_n, first));
    out.force_b_n.push_back(at(window.k[0], force_b_n, first));
    out.direction_a.push_back(at(window.k[0], direction_a, first));
    out.direction_b.push_back(at(window.k[0], direction_b, first));
  }
  return out;
}

}  // namespace evenbeam::identification
