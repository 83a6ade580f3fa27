#include "identification/grey_lines.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace evenbeam::identification {
namespace {

// A lumped model is not exact. Common practice, no source; smaller, and a few strong lines decide alone.
constexpr double kOwnAllowance = 0.01;     // of the entry itself
constexpr double kCrossAllowance = 0.003;  // of the largest entry of the line
constexpr double kUsable = 0.3;  // a line counts where its deviation is below this part of the largest entry
// A few periods' scatter is a poor guide to one line's deviation, and weights and choice by it favour lucky lines.
constexpr double kNear = 0.1;
constexpr size_t kNeighbours = 8;
constexpr size_t kMostLines = 160;

// (1 - e^{-jx})/(jx), x = w T: what holding the force over a servo period adds.
Complex hold_response(double x) {
  return std::abs(x) < 1e-9 ? Complex(1) : std::polar(2 * std::sin(x / 2) / x, -x / 2);
}

LineChoice thinned(const std::vector<GreyLine>& all) {
  if (all.size() <= kMostLines) return {all, {}};
  LineChoice out;
  const double from = std::log(all.front().hz), to = std::log(all.back().hz);
  double next = from;
  for (const GreyLine& line : all) {
    if (std::log(line.hz) < next) {
      out.held_out.push_back(line);
      continue;
    }
    out.used.push_back(line);
    next = std::max(next, std::log(line.hz)) + (to - from) / static_cast<double>(kMostLines);
  }
  return out;
}

// The lines near line i: within kNear of its frequency and kNeighbours of it on either side.
struct Span {
  size_t from = 0, to = 0;
};
Span near(const std::vector<double>& hz, size_t i) {
  Span span{i, i + 1};
  while (span.from > 0 && i - span.from < kNeighbours && hz[span.from - 1] > hz[i] * (1 - kNear)) --span.from;
  while (span.to < hz.size() && span.to - i <= kNeighbours && hz[span.to] < hz[i] * (1 + kNear)) ++span.to;
  return span;
}

using Variances = std::array<double, 4>;

// Of one line's entries: its own or the mean of the lines near by, whichever is larger.
Variances variances_at(const signal::Response& r, size_t i) {
  const Span span = near(r.frequency_hz, i);
  Variances own{}, mean{};
  for (size_t n = span.from; n < span.to; ++n)
    for (size_t k = 0; k < 4; ++k) {
      const double variance = std::max(r.covariance[n][5 * k].real(), 0.0);
      mean[k] += variance / static_cast<double>(span.to - span.from);
      if (n == i) own[k] = variance;
    }
  for (size_t k = 0; k < 4; ++k) own[k] = std::max(own[k], mean[k]);
  return own;
}

// Noise over signal at each line: largest deviation over largest entry.
std::vector<double> noise_parts(const signal::Response& r, const std::vector<Variances>& variances) {
  std::vector<double> out;
  for (size_t i = 0; i < r.g.size(); ++i) {
    const auto& m = r.g[i];
    const double largest = std::max({std::abs(m.aa), std::abs(m.ab), std::abs(m.ba), std::abs(m.bb)});
    const double noise = std::sqrt(*std::max_element(variances[i].begin(), variances[i].end()));
    out.push_back(largest > 0 ? noise / largest : std::numeric_limits<double>::infinity());
  }
  return out;
}

// A line counts by what is usual near it, the same number of lines on either side: picked by its own luck, the noisy
// lines that stay would be those that came out large.
bool counts(const std::vector<double>& noise_part, size_t i) {
  const size_t reach = std::min({kNeighbours, i, noise_part.size() - 1 - i});
  std::vector<double> about(noise_part.begin() + static_cast<std::ptrdiff_t>(i - reach),
                            noise_part.begin() + static_cast<std::ptrdiff_t>(i + reach + 1));
  const auto middle = about.begin() + static_cast<std::ptrdiff_t>(reach);
  std::nth_element(about.begin(), middle, about.end());
  return *middle < kUsable && noise_part[i] < 2 * kUsable;
}

}  // namespace

LineChoice choose_lines(const signal::Response& r, double hold_s) {
  std::vector<Variances> variances;
  for (size_t i = 0; i < r.frequency_hz.size(); ++i) variances.push_back(variances_at(r, i));
  const std::vector<double> noise_part = noise_parts(r, variances);
  std::vector<GreyLine> all;
  for (size_t i = 0; i < r.frequency_hz.size(); ++i) {
    if (!counts(noise_part, i)) continue;
    const auto& m = r.g[i];
    GreyLine line{r.frequency_hz[i], {m.aa, m.ab, m.ba, m.bb}, {}};
    const Complex hold = hold_response(2 * std::numbers::pi * r.frequency_hz[i] * hold_s);
    double largest = 0;
    for (Complex& entry : line.g) entry /= hold, largest = std::max(largest, std::abs(entry));
    for (size_t k = 0; k < 4; ++k)
      line.sigma[k] = std::sqrt(variances[i][k] + std::pow(kOwnAllowance * std::abs(line.g[k]), 2) +
                                std::pow(kCrossAllowance * largest, 2));
    all.push_back(line);
  }
  return thinned(all);
}

}  // namespace evenbeam::identification
