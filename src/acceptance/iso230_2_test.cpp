#include "acceptance/iso230_2.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/input_error.h"
#include "base/near_test.h"

namespace evenbeam::acceptance {

TEST_CASE("one direction only: what needs both is unknown, never half a number") {
  const Positioning p = positioning({{0.0, {1e-6, 2e-6}, {}}, {0.5, {3e-6, 4e-6}, {}}});
  CHECK(p.systematic_up_m == base::test::near(2e-6));
  for (const double x : {p.reversal_m, p.mean_reversal_m, p.mean_deviation_m, p.systematic_m, p.systematic_down_m,
                         p.repeatability_m, p.repeatability_down_m, p.accuracy_m, p.accuracy_down_m})
    CHECK(std::isnan(x));
  CHECK(p.short_of_plan.size() == 3);
}

TEST_CASE("down only: the rising parameters stay unknown") {
  const Positioning p = positioning({{0.0, {}, {1e-6, 2e-6}}, {0.5, {}, {3e-6, 5e-6}}});
  CHECK(std::isnan(p.accuracy_m));
  CHECK(std::isnan(p.systematic_up_m));
  CHECK(p.repeatability_down_m == base::test::near(4 * std::sqrt(2.0) * 1e-6));
}

TEST_CASE("every target that cannot be used is named in one error") {
  try {
    positioning({{0.0, {1e-6, 2e-6}, {1e-6, 2e-6}}, {0.1, {1e-6}, {1e-6, NAN}}, {0.1, {1e-6, 2e-6}, {}}});
    FAIL("accepted");
  } catch (const base::InputError& error) {
    CHECK(error.troubles().size() == 4);
  }
  CHECK_THROWS_AS(positioning({}), base::InputError);
}

TEST_CASE("targets may come in any order") {
  const Positioning p = positioning({{0.5, {1, 2}, {1, 2}}, {0.1, {0, 1}, {0, 1}}});
  CHECK(p.targets.front().target_m == 0.1);
}

}  // namespace evenbeam::acceptance
