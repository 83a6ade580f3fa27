// Distance-coded marks. Row of six: the formula is common practice (no source); the numbers were computed elsewhere
// from the scale's own geometry. Below, the geometry again, mark by mark, against the formula.
#include <doctest/doctest.h>

#include <vector>

#include "homing/coded_marks.h"

namespace evenbeam::homing {

TEST_CASE("place of the first mark, N = 1000 periods") {
  CHECK(first_coded_mark(1000, 501, +1) == 0);
  CHECK(first_coded_mark(1000, 502, +1) == 1000);
  CHECK(first_coded_mark(1000, 517, +1) == 16000);
  CHECK(first_coded_mark(1000, 499, +1) == 501);
  CHECK(first_coded_mark(1000, 498, +1) == 1502);
  CHECK(first_coded_mark(1000, 483, +1) == 16517);
  CHECK_FALSE(first_coded_mark(1000, 500, +1).has_value());
  CHECK_FALSE(first_coded_mark(1000, 1000, +1).has_value());
}

TEST_CASE("every neighbouring pair of three scales, crossed both ways") {
  long crossings = 0;
  for (const long n : {500L, 1000L, 2000L}) {
    std::vector<long> places;
    for (long k = 0; k < n / 2 - 2; ++k) places.insert(places.end(), {k * n, k * n + n / 2 + (k + 1)});
    for (size_t i = 0; i + 1 < places.size(); ++i) {
      CAPTURE(n);
      CAPTURE(i);
      const long apart = places[i + 1] - places[i];
      REQUIRE(first_coded_mark(n, apart, +1) == places[i]);
      REQUIRE(first_coded_mark(n, apart, -1) == places[i + 1]);
      crossings += 2;
    }
  }
  CHECK(crossings > 3000);
}

}  // namespace evenbeam::homing
