#include "machine/homing_file.h"

#include <doctest/doctest.h>

#include "base/near_test.h"
#include "machine/machine_file.h"

namespace evenbeam::machine {

TEST_CASE("what is known of the search is read, and a stretch turned round is refused by name") {
  const Machine m = read_machine(R"(
span = "2 m"
[homing]
reference = "switch_and_mark"
direction = "-x"
leading_side = "B"
switch_a = ["5 mm", "6 mm"]
kept_zero = "middle"
axis_zero = "-12 mm"
[electrical_angle]
read_a = ["350 deg", "10 deg"]
)",
                                 "machine.toml");
  CHECK(m.homing.reference == ReferenceKind::switch_and_mark);
  CHECK(m.homing.direction == -1);
  CHECK(m.homing.a_leads == false);
  CHECK(m.homing.kept_zero == KeptZero::middle);
  CHECK(m.homing.axis_zero_m == base::test::near(-12e-3));
  CHECK(m.homing.a.edge.to_m == base::test::near(6e-3));
  REQUIRE(m.electrical_angle.a.read_rad.size() == 2);
  CHECK(m.electrical_angle.a.read_rad[0] == base::test::near(350 * 3.14159265358979 / 180));
  for (const char* wrong :
       {R"(start = ["-20 mm", "-400 mm"])", R"(start = ["-20 mm"])", R"(start = ["-20", "3 mm"])"}) {
    CAPTURE(wrong);
    CHECK_THROWS_WITH_AS(read_machine(std::string("span = \"2 m\"\n[homing]\n") + wrong, "machine.toml"),
                         doctest::Contains("start"), base::InputError);
  }
}

}  // namespace evenbeam::machine
