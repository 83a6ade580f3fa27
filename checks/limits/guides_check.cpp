// Guide life and static safety against numbers from the standards' formulas (ISO 14728-1 and -2, from memory).
#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "limits/guide_moment.h"

namespace limits = evenbeam::limits;
namespace machine = evenbeam::machine;

TEST_CASE("nominal life on the 100 km basis (ISO 14728-1, from memory)") {
  CHECK(limits::nominal_life_km(30e3, 10e3, limits::ball_life_exponent) ==
        evenbeam::base::test::near(2700).epsilon(1e-9));
  CHECK(limits::nominal_life_km(30e3, 10e3, limits::roller_life_exponent) ==
        evenbeam::base::test::near(3894.07).epsilon(1e-6));
}

TEST_CASE("the rating for 50 km is the load at which life is 50 km (derived)") {
  // C50/C100 is the load ratio P/C100 at L = 50 km.
  const double ball = 1.259921, roller = 1.231144;  // 2^(1/3), 2^(3/10)
  CHECK(limits::nominal_life_km(1, ball, limits::ball_life_exponent) == evenbeam::base::test::near(50).epsilon(3e-6));
  CHECK(limits::nominal_life_km(1, roller, limits::roller_life_exponent) ==
        evenbeam::base::test::near(50).epsilon(3e-6));
}

TEST_CASE("static safety f_s = C0/P0 (ISO 14728-2, from memory)") {
  // C0 = 28.6 kN at P0 = 12 kN is f_s 2.3833: asking for that f_s without weight must allow 12 kN sideways.
  machine::Machine m;
  m.span_m = 2;
  m.guides = {.carriages_a_side = 2, .spacing_m = 0.3, .static_rating_n = 28.6e3, .static_safety = 28.6 / 12};
  std::string why_not;
  const auto guide = limits::guide_moment(m, why_not);
  REQUIRE(guide);
  CHECK(guide->static_safety == evenbeam::base::test::near(2.3833).epsilon(2e-5));
  CHECK(guide->lateral_force_n == evenbeam::base::test::near(12e3).epsilon(1e-12));
  CHECK(guide->moment_n_m == evenbeam::base::test::near(2 * 12e3 * 0.3).epsilon(1e-12));
}
