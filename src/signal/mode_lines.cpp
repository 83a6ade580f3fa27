#include "signal/mode_lines.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

namespace evenbeam::signal {

using math::Complex;
using math::Complex2x2;
using std::numbers::pi;

namespace {

constexpr std::size_t most_lines = 400;

}  // namespace

std::vector<std::size_t> choose_lines(const Response& response, const ModeOptions& options) {
  std::vector<std::size_t> lines;
  for (std::size_t k = 0; k < response.g.size(); ++k) {
    const double hz = response.frequency_hz[k];
    const bool in_band = hz >= options.from_hz && (options.to_hz <= 0 || hz <= options.to_hz) && hz > 0;
    const auto& c = response.coherence[k];
    if (in_band && std::max(c[0], c[1]) >= options.least_coherence) lines.push_back(k);
  }
  if (lines.size() <= most_lines) return lines;
  // Thin evenly on a logarithmic scale, each line once.
  std::vector<std::size_t> kept;
  const double first = response.frequency_hz[lines.front()];
  const double ratio = std::log(response.frequency_hz[lines.back()] / first);
  double next = 0;
  for (const std::size_t k : lines) {
    const double place = std::log(response.frequency_hz[k] / first) / ratio * (most_lines - 1);
    if (place + 1e-9 < next) continue;
    kept.push_back(k);
    next = std::floor(place) + 1;
  }
  return kept;
}

RationalData mode_data(const Response& response, const std::vector<std::size_t>& lines, double delay_s,
                       const ModeOptions& options) {
  RationalData data;
  for (const std::size_t k : lines) {
    const double omega = 2 * pi * response.frequency_hz[k];
    const Complex2x2 h = math::scaled(response.g[k], -omega * omega * std::polar(1.0, omega * delay_s));
    const auto sd = standard_deviations(response.covariance[k]);
    const double allowed = options.model_spread * math::singular_values(h)[0];
    std::array<double, 4> weight{};
    for (std::size_t e = 0; e < 4; ++e) weight[e] = 1 / std::hypot(sd[e] * omega * omega, allowed);
    data.omega_rad_per_s.push_back(omega);
    data.h.push_back(h);
    data.weight.push_back(weight);
  }
  return data;
}

double mode_delay(const Response& response, const std::vector<std::size_t>& lines, const ModeOptions& options) {
  const auto error = [&](double delay_s) {
    const RationalData data = mode_data(response, lines, delay_s, options);
    return fit_rational(data, starting_poles(data, std::min<std::size_t>(6, options.most_pairs)), 6).error;
  };
  constexpr int steps = 10;
  const double step = options.longest_delay_s / steps;
  int best = 0;
  double least = 1e300;
  for (int i = 0; i <= steps; ++i)
    if (const double e = error(step * i); e < least) {
      least = e;
      best = i;
    }
  double low = step * std::max(best - 1, 0), high = step * std::min(best + 1, steps);
  constexpr double golden = 0.6180339887498949;
  double x1 = high - golden * (high - low), x2 = low + golden * (high - low), e1 = error(x1), e2 = error(x2);
  for (int i = 0; i < 10; ++i) {
    if (e1 < e2) {
      high = x2;
      x2 = x1;
      e2 = e1;
      e1 = error(x1 = high - golden * (high - low));
    } else {
      low = x1;
      x1 = x2;
      e1 = e2;
      e2 = error(x2 = low + golden * (high - low));
    }
  }
  return e1 < e2 ? x1 : x2;
}

}  // namespace evenbeam::signal
