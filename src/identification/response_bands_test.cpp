#include "identification/response_bands.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "base/near_test.h"
#include "math/complex2x2.h"

namespace evenbeam::identification {
namespace {

struct Draw {
  std::mt19937 random{417};
  std::normal_distribution<double> normal;
  double one() { return normal(random); }
  Complex circular(double sd) { return {sd * one() / std::sqrt(2.0), sd * one() / std::sqrt(2.0)}; }
};

double deviation(const std::vector<double>& values) {
  double mean = 0, square = 0;
  for (const double v : values) mean += v / double(values.size());
  for (const double v : values) square += (v - mean) * (v - mean) / double(values.size() - 1);
  return std::sqrt(square);
}

}  // namespace

TEST_CASE("mean and skew of one line are those of the signal room's view") {
  const Sides g{Complex{3, 1}, {0.5, -2}, {-1, 0.25}, {2, 2}};
  signal::Response sides;
  sides.frequency_hz = {7};
  sides.g = {{g[0], g[1], g[2], g[3]}};
  sides.covariance = {{}};
  const math::Complex2x2 other = signal::mean_skew_view(sides).g[0];
  const Sides seen = mean_and_skew(g);
  CHECK(std::abs(seen[0] - other.aa) < 1e-15);
  CHECK(std::abs(seen[1] - other.ab) < 1e-15);
  CHECK(std::abs(seen[2] - other.ba) < 1e-15);
  CHECK(std::abs(seen[3] - other.bb) < 1e-15);
}

TEST_CASE("the model's spread is that of many drawn parameters") {
  Draw draw;
  const Sides g{Complex{3, 1}, {0.5, -2}, {-1, 0.25}, {2, 2}};
  std::vector<Sides> d(3);
  for (Sides& one : d)
    for (Complex& entry : one) entry = draw.circular(1);
  Eigen::MatrixXd root(3, 3);
  for (int i = 0; i < 9; ++i) root(i / 3, i % 3) = 0.01 * draw.one();
  const ResponseSpread spread = model_spread(g, d, root * root.transpose());
  std::array<std::vector<double>, 4> sizes, phases;
  for (int n = 0; n < 20000; ++n) {
    const Eigen::Vector3d p = root * Eigen::Vector3d(draw.one(), draw.one(), draw.one());
    for (std::size_t k = 0; k < 4; ++k) {
      const Complex moved = g[k] + p[0] * d[0][k] + p[1] * d[1][k] + p[2] * d[2][k];
      sizes[k].push_back(std::log(std::abs(moved)));
      phases[k].push_back(std::arg(moved / g[k]));
    }
  }
  for (std::size_t k = 0; k < 4; ++k) {
    CHECK(spread.size[k] == base::test::near(deviation(sizes[k])).epsilon(0.03));
    CHECK(spread.phase_rad[k] == base::test::near(deviation(phases[k])).epsilon(0.03));
  }
}

TEST_CASE(
    "95 % intervals around the measured size and phase hold the truth in 93 to 97 of 100, down to five to one") {
  Draw draw;
  const Complex truth{3e-7, -4e-7};
  for (const double part : {0.01, 0.05, 0.2}) {  // deviation by the size
    CAPTURE(part);
    const double sd = part * std::abs(truth);
    signal::ResponseCovariance covariance{};
    covariance[0] = covariance[5] = covariance[10] = covariance[15] = sd * sd;
    int sizes = 0, phases = 0;
    constexpr int draws = 4000;
    for (int n = 0; n < draws; ++n) {
      const Complex seen = truth + draw.circular(sd);
      const ResponseSpread spread = measured_spread({seen, seen, seen, seen}, covariance);
      sizes += std::abs(std::log(std::abs(seen) / std::abs(truth))) <= 1.96 * spread.size[0];
      phases += std::abs(std::arg(seen / truth)) <= 1.96 * spread.phase_rad[0];
    }
    CHECK(sizes > 0.93 * draws);
    CHECK(sizes < 0.97 * draws);
    CHECK(phases > 0.93 * draws);
    CHECK(phases < 0.97 * draws);
  }
}

}  // namespace evenbeam::identification
