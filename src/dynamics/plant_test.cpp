#include "dynamics/plant.h"

#include <doctest/doctest.h>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"

namespace evenbeam::dynamics {

TEST_CASE("a moment beyond what mass and inertia allow is brought just inside, another left alone") {
  Plant p = test::full_plant();
  const double before = p.fixed_moment_kg_m;
  bound_moment(p);
  CHECK(p.fixed_moment_kg_m == before);
  for (const double sign : {-1.0, 1.0}) {
    p.fixed_moment_kg_m = sign * 1e6;
    bound_moment(p);
    CHECK(p.fixed_moment_kg_m * sign > 0);
    CHECK(p.fixed_moment_kg_m * p.fixed_moment_kg_m / (p.fixed_inertia_kg_m2 * p.fixed_mass_kg) ==
          base::test::near(0.999));
  }
}

}  // namespace evenbeam::dynamics
