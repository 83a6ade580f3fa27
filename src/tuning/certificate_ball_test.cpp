// Sums and products of balls hold the sums and products of everything inside them (random members), and are not far
// above.
#include "tuning/certificate_ball.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "math/random.h"

namespace evenbeam::tuning {
namespace {

Complex anywhere(math::Random& random, double size) {
  return std::polar(size * random.uniform(0, 1), random.uniform(0, 2 * std::numbers::pi));
}
Ball drawn(math::Random& random) {
  return {anywhere(random, 3), anywhere(random, 2), random.uniform(0, 0.2), random.uniform(0, 0.3)};
}
// One member at `off` from the middle frequency; every other one at the edge of what the ball allows.
Complex member(const Ball& b, double off, math::Random& random) {
  const double edge = random.uniform(0, 1) < 0.5 ? 1 : random.uniform(0, 1);
  return b.middle + b.slope * off + std::polar(edge * (b.radius + b.joint), random.uniform(0, 2 * std::numbers::pi));
}

}  // namespace

TEST_CASE("sum, product and multiple of balls hold every member's, and the sum is no wider than it must be") {
  math::Random random(41);
  const double away = 0.4;
  double sum_reached = 0;
  for (int i = 0; i < 4000; ++i) {
    const Ball a = drawn(random), b = drawn(random);
    const double off = random.uniform(-away, away), factor = random.uniform(-2, 2);
    const Complex u = member(a, off, random), v = member(b, off, random);
    const auto out_of = [&](const Ball& ball, Complex value) {
      return std::abs(value - ball.middle - ball.slope * off) / (ball.radius + ball.joint);
    };
    REQUIRE(out_of(sum(a, b), u + v) <= 1 + 1e-12);
    REQUIRE(out_of(product(a, b, away), u * v) <= 1 + 1e-12);
    REQUIRE(out_of(times(factor, a), factor * u) <= 1 + 1e-9);
    REQUIRE(std::abs(u) <= a.largest(away) + 1e-12);
    sum_reached = std::max(sum_reached, out_of(sum(a, b), u + v));
  }
  CHECK(sum_reached > 0.95);
}

}  // namespace evenbeam::tuning
