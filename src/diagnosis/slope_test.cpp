#include "diagnosis/slope.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::diagnosis {

// Means 1.5 and 0.5; xx = 5, xy = 1, yy = 1: slope 1/5, sd sqrt((1 - 1/5)/2/5) = 0.2828; t of two degrees 4.3027.
TEST_CASE("a line through four points by hand, with its doubt") {
  const math::Estimate s = slope({0, 1, 2, 3}, {0, 1, 0, 1});
  CHECK(s.value == base::test::near(0.2));
  CHECK(s.sd == base::test::near(0.2828427));
  CHECK(s.upper - s.value == base::test::near(4.302653 * 0.2828427));
  CHECK(s.value - s.lower == base::test::near(4.302653 * 0.2828427));
  CHECK(mean({1, 2, 6}) == base::test::near(3));
}

TEST_CASE("where both are counted from changes nothing, and units go through") {
  math::Random random(3);
  std::vector<double> x, y, x_moved, y_moved;
  for (int i = 0; i < 12; ++i) {
    x.push_back(random.normal()), y.push_back(2 * x.back() + random.normal());
    x_moved.push_back(10 * x.back() - 40), y_moved.push_back(3 * y.back() + 70);
  }
  const math::Estimate plain = slope(x, y), moved = slope(x_moved, y_moved);
  CHECK(moved.value == base::test::near(0.3 * plain.value));
  CHECK(moved.sd == base::test::near(0.3 * plain.sd));
  CHECK(moved.upper == base::test::near(0.3 * plain.upper));
}

TEST_CASE("over 2000 random lines of six points the interval holds the true slope in 95 %") {
  math::Random random(4);
  int held = 0;
  for (int k = 0; k < 2000; ++k) {
    std::vector<double> x, y;
    for (int i = 0; i < 6; ++i) x.push_back(i), y.push_back(5 - 0.7 * i + random.normal());
    const math::Estimate s = slope(x, y);
    held += s.lower < -0.7 && s.upper > -0.7;
  }
  CHECK(held > 1900 - 40);  // four of its own standard deviations
  CHECK(held < 1900 + 40);
}

}  // namespace evenbeam::diagnosis
