#include "diagnosis/smooth_samples.h"

#include <algorithm>
#include <cmath>

#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kHalf_s = 0.01;  // h; common practice, no source

// Mean under a triangle of half width `half` samples about k.
double under_triangle(const std::vector<double>& x, std::size_t k, std::size_t half) {
  const double h = static_cast<double>(half);
  double sum = x[k];
  for (std::size_t j = 1; j < half; ++j) sum += (1 - static_cast<double>(j) / h) * (x[k - j] + x[k + j]);
  return sum / h;
}

struct Rates {
  double first = 0, second = 0;
};

Rates rates(double before, double here, double after, double span_s) {
  return {(after - before) / (2 * span_s), (after - 2 * here + before) / (span_s * span_s)};
}

}  // namespace

std::vector<SmoothSample> smooth_samples(const recording::Recording& r, std::size_t most) {
  std::vector<SmoothSample> out;
  if (!recording::has_positions(r) || !recording::has_forces(r) || !(r.period_s > 0) || most == 0) return out;
  const auto half = std::max<std::size_t>(2, static_cast<std::size_t>(std::lround(kHalf_s / r.period_s)));
  const std::size_t n = r.time_s.size(), stride = std::max<std::size_t>(1, n / most);
  const double span_s = static_cast<double>(half) * r.period_s;
  const auto mean = [&](std::size_t k) { return (r.position_a_m[k] + r.position_b_m[k]) / 2; };
  const std::vector<double> skew = recording::difference(r.position_a_m, r.position_b_m);
  for (std::size_t k = half; k + half < n; k += stride) {
    const Rates x = rates(mean(k - half), mean(k), mean(k + half), span_s),
                s = rates(skew[k - half], skew[k], skew[k + half], span_s);
    const SmoothSample one{r.time_s[k],
                           mean(k),
                           x.first,
                           x.second,
                           under_triangle(skew, k, half),
                           s.first,
                           s.second,
                           under_triangle(r.force_a_n, k, half),
                           under_triangle(r.force_b_n, k, half)};
    if (std::isfinite(x.second) && std::isfinite(one.skew_m) && std::isfinite(one.fight_n())) out.push_back(one);
  }
  return out;
}

double top_speed(const std::vector<SmoothSample>& samples) {
  double top = 0;
  for (const SmoothSample& s : samples) top = std::max(top, std::abs(s.speed_m_per_s));
  return top;
}

std::vector<SmoothSample> moving(const std::vector<SmoothSample>& samples) {
  std::vector<SmoothSample> out;
  const double top = top_speed(samples);
  for (const SmoothSample& s : samples)
    if (std::abs(s.speed_m_per_s) > 0.05 * top) out.push_back(s);
  return out;
}

}  // namespace evenbeam::diagnosis
