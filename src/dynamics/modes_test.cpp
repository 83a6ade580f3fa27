#include "dynamics/modes.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "math/random.h"

namespace evenbeam::dynamics {

TEST_CASE("law: the place that moves most moves by 1, none by more, on either side") {
  math::Random random(7);
  int a_most = 0, b_most = 0;
  for (int k = 0; k < 200; ++k) {
    CAPTURE(k);
    Plant p = test::full_plant();
    p.fixed_moment_kg_m = random.uniform(-0.9, 0.9) * std::sqrt(p.fixed_mass_kg * p.fixed_inertia_kg_m2);
    p.carriage_y_m = random.uniform(-0.7, 0.7);
    p.yaw_stiffness_n_m_per_rad *= std::pow(10, random.uniform(-1, 1));
    if (k % 2 == 0) p.a.drive_stiffness_n_per_m = p.b.drive_stiffness_n_per_m = 0;  // motors are their ends
    for (const Mode& m : modes(p)) {
      const double places[] = {m.motor_a, m.motor_b, m.end_a, m.end_b, m.middle, m.carriage};
      double most = 0;
      for (const double x : places) most = std::max(most, std::abs(x));
      CHECK(most == base::test::near(1).epsilon(1e-9));
      a_most += std::abs(m.end_a) > 0.999, b_most += std::abs(m.end_b) > 0.999;
    }
  }
  CHECK(a_most > 20);
  CHECK(b_most > 20);
}

// The names by what moves, seen from the shape itself.
TEST_CASE("modes are named by what moves: light bodies that hardly move give no name") {
  Plant p = test::full_plant();
  p.fixed_moment_kg_m = 0, p.carriage_y_m = 0, p.carriage_ahead_m = 0, p.a = p.b;
  int yaw = 0, bending = 0, carriage = 0;
  for (const Mode& m : modes(p)) {
    CAPTURE(m.hz);
    CAPTURE(m.name);
    const bool opposed = m.end_a * m.end_b < 0 && std::abs(m.middle) < 1e-6;  // symmetric: modes part cleanly
    yaw += m.name == "yaw", bending += m.name == "bending", carriage += m.name == "carriage";
    if (m.name == "yaw") CHECK(opposed);
    if (m.name == "bending") CHECK(m.middle * m.end_a < 0);
    if (m.name == "drives opposed") CHECK(opposed);
    if (m.name == "carriage") CHECK(std::abs(m.carriage) > 0.999);
  }
  CHECK(yaw == 1);
  CHECK(bending >= 1);  // the drives may stretch along with it
  CHECK(carriage == 1);
}

}  // namespace evenbeam::dynamics
