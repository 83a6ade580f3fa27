#include "tuning/share_plan.h"

#include <doctest/doctest.h>

#include "base/near_test.h"

namespace evenbeam::tuning {

TEST_CASE("the share of a place: straight between places, held beyond the ends, constant where it can't follow") {
  SharePlan plan{.follows = true, .constant = 0.51, .places = {{-1, 0.56, 0.58}, {0, 0.5, 0.5}, {1, 0.46, 0.44}}};
  CHECK(share_at_place(plan, -0.5) == base::test::near(0.53));
  CHECK(share_at_place(plan, 0.25) == base::test::near(0.49));
  CHECK(share_at_place(plan, -3) == 0.56);
  CHECK(share_at_place(plan, 3) == 0.46);
  plan.follows = false;
  CHECK(share_at_place(plan, -0.5) == 0.51);
}

}  // namespace evenbeam::tuning
