// Stop categories and safety distances against the standards' words and numbers, all from memory.
#include <doctest/doctest.h>

#include "base/near_test.h"
#include "protection/fault.h"
#include "protection/fault_run.h"
#include "protection/stopping.h"

using namespace evenbeam::protection;

TEST_CASE(
    "light curtains and single beams (ISO 13855:2010, 6.2.3, from memory; the 2024 edition has other formulas)") {
  CHECK(curtain_distance_m(0.15, 0.014) == evenbeam::base::test::near(0.300).epsilon(1e-12));
  CHECK(curtain_distance_m(0.28, 0.030) ==
        evenbeam::base::test::near(0.576).epsilon(1e-12));  // 688 mm first, then with 1600
  CHECK(curtain_distance_m(0.26, 0.014) == evenbeam::base::test::near(0.500).epsilon(1e-12));  // 520, 416, so 500 mm
  CHECK(curtain_distance_m(0.30, 0.050) == evenbeam::base::test::near(1.330).epsilon(1e-12));  // single beams
  CHECK(curtain_distance_m(0.01, 0.014) == evenbeam::base::test::near(0.100).epsilon(1e-12));  // never less
}

TEST_CASE("worn parts (ISO 13849-1, annex C, from memory)") {
  const double a_year = operations_per_year(220, 16, 5);
  CHECK(a_year == evenbeam::base::test::near(2.5344e6).epsilon(1e-9));
  CHECK(years_to_dangerous_failure(60e6, a_year) == evenbeam::base::test::near(236.74).epsilon(1e-4));
  CHECK(60e6 / a_year == evenbeam::base::test::near(23.674).epsilon(1e-4));  // T10d
}

TEST_CASE("stop categories (IEC 60204-1, 9.2, from memory): 0 power removed at once, 1 after standstill, 2 kept") {
  CHECK(stop_category(Reaction::off) == 0);
  CHECK(stop_category(Reaction::off_brakes) == 0);
  CHECK(stop_category(Reaction::dynamic_braking) == 0);
  CHECK(stop_category(Reaction::controlled_stop) == 1);
  CHECK(stop_category(Reaction::follow) == 1);
  CHECK(stop_category(Reaction::hold) == 2);
}
