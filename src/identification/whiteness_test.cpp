#include "identification/whiteness.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::identification {
namespace {

// Misses of which a part `carried` is the line's before.
std::vector<Sides> misses(std::uint64_t seed, double carried) {
  math::Random random(seed);
  std::vector<Sides> out(150);
  for (size_t i = 0; i < out.size(); ++i)
    for (size_t k = 0; k < 4; ++k) {
      const Complex own(random.normal() / std::sqrt(2.0), random.normal() / std::sqrt(2.0));
      out[i][k] = i == 0 ? own : carried * out[i - 1][k] + std::sqrt(1 - carried * carried) * own;
    }
  return out;
}

}  // namespace

TEST_CASE("white misses stay within what is said, in at least 95 of 100") {
  int within = 0;
  for (std::uint64_t seed = 1; seed <= 400; ++seed) {
    const Whiteness w = line_whiteness(misses(seed, 0));
    within += std::abs(w.correlation) <= w.white_within;
  }
  CHECK(within >= 380);
}

TEST_CASE("misses that neighbours share are told, and by how much") {
  for (double carried : {0.3, 0.6, 0.9}) {
    const Whiteness w = line_whiteness(misses(1, carried));
    CHECK(w.correlation > w.white_within);
    CHECK(w.correlation == base::test::near(carried).epsilon(0.15));
  }
}

TEST_CASE("nothing to compare is no verdict") {
  CHECK(line_whiteness({}).white_within == 1);
  CHECK(line_whiteness(std::vector<Sides>(1)).correlation == 0);
}

}  // namespace evenbeam::identification
