#include "dynamics/beam.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::dynamics {

TEST_CASE("law: the shape meets its ends, and slope and curvature are its differences") {
  math::Random random(31);
  for (int k = 0; k < 200; ++k) {
    CAPTURE(k);
    const double span = random.uniform(0.5, 6), end = random.uniform(-1.6, -0.02),
                 y = random.uniform(-0.5, 0.5) * span;
    CAPTURE(end);
    const BendingShape shape = bending_shape(end, span);
    CHECK(shape_at(shape, 0) == base::test::near(1));
    CHECK(shape_at(shape, span / 2) == base::test::near(end).epsilon(1e-9));
    CHECK(shape_at(shape, -span / 2) == base::test::near(end).epsilon(1e-9));
    const double h = 1e-4 * span;  // error of the differences: h^2/6 and h^2/12 of the fourth derivative, 1e-7 of it
    const double before = shape_at(shape, y - h), here = shape_at(shape, y), after = shape_at(shape, y + h);
    CHECK(std::abs(slope_at(shape, y) - (after - before) / (2 * h)) < 1e-6 / span);
    CHECK(std::abs(curvature_at(shape, y) - (after - 2 * here + before) / (h * h)) < 1e-4 / (span * span));
  }
}

}  // namespace evenbeam::dynamics
