#include "signal/frequency_response.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "signal/response_routes.h"

namespace evenbeam::signal {
namespace {

using math::Complex;
using math::Complex2x2;

// G' = L G R with real L, R: entries and covariance alike.
struct View {
  std::array<double, 4> left, right;  // aa, ab, ba, bb
};
constexpr View to_mean_skew = {{0.5, 0.5, 1, -1}, {0.5, 1, 0.5, -1}};
constexpr View to_sides = {{1, 0.5, 1, -0.5}, {1, 1, 0.5, -0.5}};

Response seen_by(const Response& from, const View& view) {
  Response to = from;
  // vec(G') = K vec(G), K[(i,j),(k,l)] = L(i,k) R(l,j).
  std::array<double, 16> k{};
  for (std::size_t row = 0; row < 4; ++row)
    for (std::size_t column = 0; column < 4; ++column)
      k[4 * row + column] = view.left[2 * (row / 2) + column / 2] * view.right[2 * (column % 2) + row % 2];
  for (std::size_t line = 0; line < from.g.size(); ++line) {
    const std::array<Complex, 4> g = {from.g[line].aa, from.g[line].ab, from.g[line].ba, from.g[line].bb};
    std::array<Complex, 4> seen{};
    ResponseCovariance covariance{};
    for (std::size_t i = 0; i < 4; ++i)
      for (std::size_t p = 0; p < 4; ++p) {
        seen[i] += k[4 * i + p] * g[p];
        for (std::size_t j = 0; j < 4; ++j)
          for (std::size_t q = 0; q < 4; ++q)
            covariance[4 * i + j] += k[4 * i + p] * k[4 * j + q] * from.covariance[line][4 * p + q];
      }
    to.g[line] = {seen[0], seen[1], seen[2], seen[3]};
    to.covariance[line] = covariance;
  }
  return to;
}

void check_experiments(std::span<const Experiment> experiments, const ResponseOptions& options) {
  base::check(options.sample_s > 0, "response: sample time above 0", {options.sample_s});
  for (const auto& e : experiments) {
    const std::size_t n = e.position_a_m.size();
    base::check(e.position_b_m.size() == n && e.force_a_n.size() == n && e.force_b_n.size() == n,
                "response: the four channels of an experiment are of one length", {double(n)});
    base::check(e.reference_a.size() == e.reference_b.size() && (e.reference_a.empty() || e.reference_a.size() == n),
                "response: references are both there, of the same length, or both absent", {double(n)});
  }
}

}  // namespace

LineRange line_range(std::size_t length, const ResponseOptions& options) {
  const double spacing_hz = 1 / (static_cast<double>(length) * options.sample_s);
  const double last = static_cast<double>(length / 2);
  const double from = std::max(1.0, std::ceil(options.from_hz / spacing_hz - 1e-6));
  const double to = options.to_hz > 0 ? std::min(last, std::floor(options.to_hz / spacing_hz + 1e-6)) : last;
  if (to < from) return {1, 0};
  return {static_cast<std::size_t>(from), static_cast<std::size_t>(to - from) + 1};
}

void add_covariance(ResponseCovariance& covariance, const Complex2x2& noise, const Complex2x2& excitation) {
  const std::array<Complex, 4> n = {noise.aa, noise.ab, noise.ba, noise.bb};
  const std::array<Complex, 4> x = {excitation.aa, excitation.ab, excitation.ba, excitation.bb};
  for (std::size_t row = 0; row < 4; ++row)
    for (std::size_t column = 0; column < 4; ++column)
      covariance[4 * row + column] += math::times(n[2 * (row / 2) + column / 2], x[2 * (row % 2) + column % 2]);
}

Response refuse_response(std::string reason) {
  Response response;
  response.state = ResponseState::refused;
  response.reason = std::move(reason);
  return response;
}

std::array<double, 4> standard_deviations(const ResponseCovariance& covariance) {
  std::array<double, 4> sd{};
  for (std::size_t i = 0; i < 4; ++i) sd[i] = std::sqrt(std::max(covariance[5 * i].real(), 0.0));
  return sd;
}

Response measure_response(std::span<const Experiment> experiments, const ResponseOptions& options) {
  check_experiments(experiments, options);
  if (experiments.empty()) return refuse_response("no recording given");
  return options.period_s > 0 ? measure_periodic(experiments, options) : measure_welch(experiments, options);
}

Response mean_skew_view(const Response& sides) { return seen_by(sides, to_mean_skew); }
Response side_view(const Response& mean_skew) { return seen_by(mean_skew, to_sides); }

}  // namespace evenbeam::signal
