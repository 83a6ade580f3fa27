#include "acceptance/force_spread.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam;
using namespace evenbeam::acceptance;

namespace {

std::vector<Stroke> strokes_of(int count, std::size_t length) {
  std::vector<Stroke> out;
  for (int k = 0; k < count; ++k) {
    const std::size_t from = static_cast<std::size_t>(k) * length;
    out.push_back({.from = from, .to = from + length / 2, .rest_to = from + length, .stop_seen = true});
  }
  return out;
}

}  // namespace

TEST_CASE("four strokes by hand: squares 1, 2, 3, 2 give a half width of 3.182 sqrt(2/3)/2/4") {
  std::vector<double> force;
  for (double square : {1.0, 2.0, 3.0, 2.0}) force.insert(force.end(), 10, std::sqrt(square));
  const auto half = rms_half_width(force, strokes_of(4, 10));
  REQUIRE(half);
  // t_(0.975, 3) = 3.18245 (printed tables)
  CHECK(*half == base::test::near(3.18245 * std::sqrt(2.0 / 3 / 4) / 4).epsilon(1e-5));
}

TEST_CASE("fewer than four whole strokes tell no scatter") {
  const std::vector<double> force(40, 2.0);
  CHECK_FALSE(rms_half_width(force, strokes_of(3, 10)));
  auto cut = strokes_of(4, 10);
  cut.back().rest_cut = true;
  CHECK_FALSE(rms_half_width(force, cut));
  CHECK_FALSE(rms_half_width({}, strokes_of(4, 10)));
  CHECK(*rms_half_width(force, strokes_of(4, 10)) == 0);
}

TEST_CASE("over 2000 random records of six strokes the interval holds the long mean in 95 %") {
  math::Random random(4711);
  int inside = 0;
  constexpr int records = 2000, strokes = 6;
  for (int r = 0; r < records; ++r) {
    std::vector<double> force;
    double sum = 0;
    for (int k = 0; k < strokes; ++k) {
      const double square = 100 * (1 + 0.05 * random.normal());
      sum += square / strokes;
      force.insert(force.end(), 10, std::sqrt(square));
    }
    const double rms = std::sqrt(sum);
    inside += std::abs(rms - 10) <= rms * *rms_half_width(force, strokes_of(strokes, 10));
  }
  INFO("seed 4711, inside: ", inside);
  CHECK(inside > 0.935 * records);
  CHECK(inside < 0.965 * records);
}
