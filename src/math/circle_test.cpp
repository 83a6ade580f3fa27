#include "math/circle.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

namespace evenbeam::math {

TEST_CASE("radii on a grid stand at the middle of its steps, from minus half a turn on") {
  constexpr double turn = 2 * std::numbers::pi;
  const auto radius = [](double angle) { return 1 + 0.1 * std::sin(angle) + 0.03 * std::cos(2 * angle); };
  std::vector<Point> points;
  for (int k = 0; k < 3600; ++k) {
    const double angle = turn * k / 3600;
    points.push_back({0.2 + radius(angle) * std::cos(angle), -0.1 + radius(angle) * std::sin(angle)});
  }
  constexpr std::size_t count = 36;
  const std::vector<double> radii = radii_on_grid(points, 0.2, -0.1, count);
  REQUIRE(radii.size() == count);
  for (std::size_t k = 0; k < count; ++k)
    CHECK(std::abs(radii[k] - radius(-turn / 2 + turn * (double(k) + 0.5) / count)) < 1e-6);
}

}  // namespace evenbeam::math
