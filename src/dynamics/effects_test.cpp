#include "dynamics/effects.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"

using namespace evenbeam::dynamics;

// Let go off its place and stepped with small steps, half the moving mass on the bristles' spring swings with the
// stated ratio: two tops a period apart are exp(-2 pi zeta/sqrt(1 - zeta^2)) of each other.
TEST_CASE("before it slides, half the moving mass on a side's bristles dies away with the stated damping ratio") {
  const PlantSide side{.coulomb_n = 40};
  for (const double ratio : {0.1, 0.3, 0.6}) {
    const SideEffects effects{.presliding_m = 8e-6, .presliding_damping_ratio = ratio};
    const double mass_kg = 180;
    const Bristle b = bristle(side, effects, mass_kg);
    CHECK(b.stiffness_n_per_m * 8e-6 == evenbeam::base::test::near(40));  // Coulomb's force at that deflection
    const auto pull = [&](double x, double v) {
      return -(b.stiffness_n_per_m * x + b.damping_n_s_per_m * v) / (mass_kg / 2);
    };
    const double step = 1e-6;
    double x = 1e-6, v = 0, before = 0, top = 0;
    int tops = 1;  // the start is one
    for (int i = 0; i < 400000 && tops < 2; ++i) {
      const double middle_v = v + step / 2 * pull(x, v), middle_x = x + step / 2 * v;
      before = v;
      v += step * pull(middle_x, middle_v), x += step * middle_v;
      if (before > 0 && v <= 0) ++tops, top = x;
    }
    REQUIRE(tops == 2);
    const double decay = std::exp(-2 * std::numbers::pi * ratio / std::sqrt(1 - ratio * ratio));
    CHECK(top == evenbeam::base::test::near(1e-6 * decay).epsilon(1e-3));
  }
}

TEST_CASE("a side without friction has no bristles") {
  const Bristle none = bristle({}, {.presliding_m = 8e-6}, 100);
  CHECK(none.stiffness_n_per_m == 0);
  CHECK(none.damping_n_s_per_m == 0);
}
