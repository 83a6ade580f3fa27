#include "tuning/bending_pull.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/beam.h"
#include "math/random.h"

namespace evenbeam::tuning {

TEST_CASE("the end shape's pull is what differences of the shape give") {
  math::Random random(1);
  for (int k = 0; k < 300; ++k) {
    const double e = random.uniform(-1.6, -0.05), y = random.uniform(-1, 1), step = 1e-5;
    CAPTURE(e);
    CAPTURE(y);
    const auto shape = [&](double at) { return dynamics::shape_at(dynamics::bending_shape(at, 2), y); };
    const double slope = (shape(e + step) - shape(e - step)) / (2 * step);
    CHECK(bending_pull(e, 2, y) == base::test::near(slope - shape(e) / e).epsilon(1e-6).scale(1 / std::abs(e)));
  }
}

TEST_CASE("the enclosure holds every place and end shape of its range, and is little wider") {
  math::Random random(2);
  for (int k = 0; k < 200; ++k) {
    const double e = random.uniform(-1.55, -0.1), reach = random.uniform(0.001, 0.05),
                 span_m = random.uniform(0.5, 4);
    const Span ends{e * (1 + reach), e * (1 - reach)};
    const PullRange range(ends, span_m);
    const double p = random.uniform(-span_m / 2, span_m / 2), q = random.uniform(-span_m / 2, span_m / 2);
    const Span places = k % 3 == 0 ? Span{p, p} : Span{std::min(p, q), std::max(p, q)};
    const Span enclosed = range.over(places);
    CAPTURE(e);
    CAPTURE(reach);
    CAPTURE(places.low);
    CAPTURE(places.high);
    double least = 1e300, most = -1e300;
    for (int i = 0; i <= 12; ++i)
      for (int j = 0; j <= 12; ++j) {
        const double here = bending_pull(ends.low + i * (ends.high - ends.low) / 12, span_m,
                                         places.low + j * (places.high - places.low) / 12);
        CHECK(here >= enclosed.low);
        CHECK(here <= enclosed.high);
        least = std::min(least, here), most = std::max(most, here);
      }
    // A cell of x, the steps of 1/12 above and the arithmetic widen it.
    const double wide = (0.03 + 4 * reach) / std::abs(e) + 0.2 * (most - least);
    CHECK(enclosed.high - enclosed.low <= most - least + wide);
  }
}

TEST_CASE("end shapes that reach zero, and places outside the span, enclose everything") {
  CHECK(std::isinf(PullRange({-0.1, 0.01}, 2).over({0, 0.5}).high));
  CHECK(std::isinf(PullRange({-0.5, -0.4}, 2).over({0, 1.5}).low));
}

}  // namespace evenbeam::tuning
