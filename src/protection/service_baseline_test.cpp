#include "protection/service_baseline.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"

using namespace evenbeam;

TEST_CASE("a threshold of the baseline is the change worth a look, or what two visits can tell apart") {
  protection::ServiceInput in;
  in.coulomb_a_n = base::Estimate{100, 95, 105};  // 30 % counts
  in.coulomb_b_n = base::Estimate{100, 70, 130};  // twice the half-interval counts
  in.yaw_stiffness_n_m_per_rad = base::Estimate{4e6, 4e6, 4e6};
  in.yaw_inertia_kg_m2 = base::Estimate{100, 100, 100};
  in.standing_skew_m = -1e-4, in.span_m = 2, in.brake_close_a_s = 0.04;
  const auto rows = protection::service_baseline(in);
  REQUIRE(rows.size() == 5);
  CHECK(rows[0].high == base::test::near(130));
  CHECK(rows[0].low == base::test::near(70));
  CHECK(rows[1].high == base::test::near(160));
  CHECK(rows[1].low == base::test::near(40));
  CHECK(rows[2].value.value == base::test::near(200 / (2 * std::numbers::pi)));
  CHECK(rows[2].low == base::test::near(0.95 * rows[2].value.value));
  CHECK(rows[3].value.value == base::test::near(100));  // 4e6/4 * 1e-4
  CHECK(rows[3].high == base::test::near(150));
  CHECK(rows[4].high == base::test::near(0.06));
  CHECK(protection::service_baseline({}).empty());
}

// sqrt(K/J) is off by half of what K and J are off, as parts: 1.25 % and 2 % taken together.
TEST_CASE("the yaw frequency is known as well as half of stiffness and inertia together, either way") {
  protection::ServiceInput in;
  in.yaw_stiffness_n_m_per_rad = base::Estimate{4e6, 3.9e6, 4.1e6};
  in.yaw_inertia_kg_m2 = base::Estimate{100, 96, 104};
  const auto rows = protection::service_baseline(in);
  REQUIRE(rows.size() == 1);
  const double hz = 200 / (2 * std::numbers::pi), part = std::hypot(0.0125, 0.02);
  CHECK(rows[0].value.value == base::test::near(hz));
  CHECK(rows[0].value.lower == base::test::near(hz * (1 - part)));
  CHECK(rows[0].value.upper == base::test::near(hz * (1 + part)));
}
