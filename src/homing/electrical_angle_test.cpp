#include "homing/electrical_angle.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::homing {
namespace {
constexpr double degree = std::numbers::pi / 180;
}

TEST_CASE("angles on both sides of a whole turn have their mean between them") {
  const AngleAtMark a = angle_at_mark({.read_rad = {358 * degree, 2 * degree, -2 * degree, 362 * degree}});
  REQUIRE(a.done);
  CHECK(std::abs(a.angle_rad) < 1e-12);
  CHECK(a.largest_error_rad == base::test::near(2 * degree));
  CHECK(a.loss_seen == base::test::near(1 - std::cos(2 * degree)));
  CHECK(a.loss_seen < a.loss_expected);
}

TEST_CASE("a stated angle shows the bias of power-up, and its loss needs no spread") {
  const AngleAtMark a = angle_at_mark({.read_rad = {40 * degree}, .true_rad = 30 * degree});
  REQUIRE(a.done);
  CHECK(a.bias_rad == base::test::near(10 * degree));
  CHECK(a.correction_rad.front() == base::test::near(-10 * degree));
  CHECK(a.loss_expected == base::test::near(1 - std::cos(10 * degree)));
  CHECK_FALSE(angle_at_mark({.read_rad = {40 * degree}}).done);
}

TEST_CASE("the error to expect holds 95 % of power-ups with 95 % confidence") {
  math::Random r(3);
  int kept = 0;
  const int tried = 150;  // the exact factor takes milliseconds
  for (int i = 0; i < tried; ++i) {
    machine::ElectricalAngles angles{.true_rad = 0.0};
    for (int k = 0; k < 6; ++k) angles.read_rad.push_back(5 * degree * r.normal());
    // Of a normal error with sd 5 degrees 95 % lie within 9.8.
    kept += angle_at_mark(angles).expected_error_rad >= 1.959964 * 5 * degree;
  }
  CAPTURE(kept);
  CHECK(kept > 0.94 * tried);
}

}  // namespace evenbeam::homing
