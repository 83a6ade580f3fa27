#include "identification/response_bands.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::identification {

Sides mean_and_skew(const Sides& g) {
  const Complex a_sum = 0.5 * (g[0] + g[1]), b_sum = 0.5 * (g[2] + g[3]);  // x_A and x_B per f_m
  const Complex a_fight = g[0] - g[1], b_fight = g[2] - g[3];              // and per d
  return {0.5 * (a_sum + b_sum), 0.5 * (a_fight + b_fight), a_sum - b_sum, a_fight - b_fight};
}

ResponseSpread model_spread(const Sides& g, std::span<const Sides> d, const Eigen::MatrixXd& covariance) {
  ResponseSpread out;
  const Eigen::Index count = covariance.rows();
  for (std::size_t k = 0; k < 4; ++k) {
    Eigen::VectorXd size(count), phase(count);
    for (Eigen::Index j = 0; j < count; ++j) {
      const Complex part = d[static_cast<std::size_t>(j)][k] / g[k];
      size[j] = part.real();
      phase[j] = part.imag();
    }
    out.size[k] = std::sqrt(std::max(0.0, size.dot(covariance * size)));
    out.phase_rad[k] = std::sqrt(std::max(0.0, phase.dot(covariance * phase)));
  }
  return out;
}

ResponseSpread measured_spread(const Sides& g, const signal::ResponseCovariance& covariance) {
  ResponseSpread out;
  const std::array<double, 4> sd = signal::standard_deviations(covariance);
  for (std::size_t k = 0; k < 4; ++k) out.size[k] = out.phase_rad[k] = sd[k] / (std::sqrt(2.0) * std::abs(g[k]));
  return out;
}

}  // namespace evenbeam::identification
