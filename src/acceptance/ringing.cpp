#include "acceptance/ringing.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "signal/fft.h"

namespace evenbeam::acceptance {

namespace {

using Samples = std::vector<double>;
constexpr double two_pi = 2 * std::numbers::pi;
constexpr std::size_t unknowns = 4;

// Fit of line and damped oscillation at given w and delta; time in the stretch's own length, centred on its middle.
struct Trial {
  double left = 0;  // residual sum of squares
  double amplitude = 0;
};

// Gauss with pivoting on the 4 x 4 normal equations; false where singular.
bool solve(std::array<std::array<double, unknowns + 1>, unknowns>& a) {
  for (std::size_t c = 0; c < unknowns; ++c) {
    std::size_t pivot = c;
    for (std::size_t r = c + 1; r < unknowns; ++r)
      if (std::abs(a[r][c]) > std::abs(a[pivot][c])) pivot = r;
    if (!(std::abs(a[pivot][c]) > 1e-12)) return false;
    std::swap(a[c], a[pivot]);
    for (std::size_t r = 0; r < unknowns; ++r) {
      if (r == c) continue;
      const double f = a[r][c] / a[c][c];
      for (std::size_t k = c; k <= unknowns; ++k) a[r][k] -= f * a[c][k];
    }
  }
  return true;
}

Trial try_fit(const Samples& y, double step_s, double omega, double decay) {
  const double n = double(y.size()), middle = (n - 1) / 2;
  std::array<std::array<double, unknowns + 1>, unknowns> normal{};
  double energy = 0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double t = (double(i) - middle) * step_s, envelope = std::exp(-decay * t);
    const std::array<double, unknowns> row{1, 2 * t / (n * step_s), envelope * std::cos(omega * t),
                                           envelope * std::sin(omega * t)};
    for (std::size_t r = 0; r < unknowns; ++r) {
      for (std::size_t k = 0; k < unknowns; ++k) normal[r][k] += row[r] * row[k] / n;
      normal[r][unknowns] += row[r] * y[i] / n;
    }
    energy += y[i] * y[i];
  }
  auto solved = normal;
  if (!solve(solved)) return {energy, 0};
  double explained = 0;
  std::array<double, unknowns> x{};
  for (std::size_t r = 0; r < unknowns; ++r) {
    x[r] = solved[r][unknowns] / solved[r][r];
    explained += x[r] * normal[r][unknowns] * n;
  }
  return {std::max(0.0, energy - explained), std::hypot(x[2], x[3])};
}

// Takes the line through the samples out; returns what is left, scaled by nothing.
Samples without_line(const Samples& y) {
  const double n = double(y.size()), middle = (n - 1) / 2;
  double mean = 0, slope = 0, square = 0;
  for (const double v : y) mean += v / n;
  for (std::size_t i = 0; i < y.size(); ++i) {
    slope += (double(i) - middle) * (y[i] - mean);
    square += (double(i) - middle) * (double(i) - middle);
  }
  slope /= square;
  Samples out(y.size());
  for (std::size_t i = 0; i < y.size(); ++i) out[i] = y[i] - mean - slope * (double(i) - middle);
  return out;
}

double strongest_line_hz(const Samples& y, double step_s) {
  constexpr std::size_t padding = 4;
  Samples padded(padding * y.size(), 0.0);
  for (std::size_t i = 0; i < y.size(); ++i)
    padded[i] = y[i] * (0.5 - 0.5 * std::cos(two_pi * (double(i) + 0.5) / double(y.size())));
  const auto lines = signal::forward_transform(padded);
  std::size_t best = padding;  // from one cycle in the stretch
  for (std::size_t k = padding; k < lines.size(); ++k)
    if (std::norm(lines[k]) > std::norm(lines[best])) best = k;
  return double(best) / (double(padded.size()) * step_s);
}

// Block averages with at least 24 points a cycle, at most 1500 points.
Samples blocks(const Samples& y, std::size_t block) {
  Samples out(y.size() / block, 0.0);
  for (std::size_t i = 0; i < out.size(); ++i)
    for (std::size_t k = 0; k < block; ++k) out[i] += y[i * block + k] / double(block);
  return out;
}

}  // namespace

Oscillation strongest_oscillation(const std::vector<double>& x, std::size_t from, std::size_t to, double period_s) {
  Oscillation out;
  if (to < from + 32) return out;
  Samples stretch;
  for (std::size_t i = from; i < to; ++i) {
    if (!std::isfinite(x[i])) return out;
    stretch.push_back(x[i]);
  }
  const Samples rest = without_line(stretch);
  double energy = 0, whole = 0;
  for (const double v : rest) energy += v * v;
  for (const double v : stretch) whole += v * v;
  constexpr double rounding = 1e-20;  // less than this part of the signal is its digits, no content
  if (!(energy > rounding * whole)) return out;
  const double line_hz = strongest_line_hz(rest, period_s);
  const std::size_t block = std::max<std::size_t>(1, std::size_t(1 / (24 * line_hz * period_s)));
  const Samples y = blocks(rest, block);
  const double step_s = double(block) * period_s, length_s = double(y.size()) * step_s;
  if (y.size() < 16) return out;
  double omega = two_pi * line_hz, decay = 0, best = try_fit(y, step_s, omega, decay).left;
  // Pattern search: both unknowns by steps that halve once no neighbour is better.
  double w_step = 1.5 / length_s * 2, d_step = 2 / length_s;
  const double d_most = 20 / length_s;
  for (int round = 0; round < 200 && w_step > 1e-4 * omega; ++round) {
    bool better = false;
    for (const auto& [dw, dd] : {std::array{1.0, 0.0}, {-1.0, 0.0}, {0.0, 1.0}, {0.0, -1.0}}) {
      const double w = omega + dw * w_step, d = decay + dd * d_step;
      if (w * length_s < two_pi * 0.75 || w * step_s > 0.9 * std::numbers::pi || std::abs(d) > d_most) continue;
      const double left = try_fit(y, step_s, w, d).left;
      if (left >= best) continue;
      best = left;
      omega = w;
      decay = d;
      better = true;
      break;
    }
    if (!better) w_step /= 2, d_step /= 2;
  }
  double blocked = 0;
  for (const double v : y) blocked += v * v;
  out.fitted = true;
  out.hz = omega / two_pi;
  out.decay_per_s = decay;
  out.damping = decay / std::hypot(decay, omega);
  out.amplitude_m = try_fit(y, step_s, omega, decay).amplitude;
  out.explained = std::clamp((blocked - best) * double(block) / energy, 0.0, 1.0);
  out.cycles = out.hz * length_s;
  return out;
}

bool rings(const Oscillation& o, const RingingRule& rule) {
  return o.fitted && o.cycles >= rule.least_cycles && o.explained >= rule.least_explained &&
         o.damping <= rule.most_damping && o.amplitude_m > rule.noise_m;
}

}  // namespace evenbeam::acceptance
