#include "squareness/points_file.h"

#include <doctest/doctest.h>

#include "base/near_test.h"

namespace evenbeam::squareness {

TEST_CASE("columns are found by name and come in SI, whatever their order, unit and zero") {
  const auto columns =
      read_columns("air [degC],note,x [mm]\n20,1,250\n22.5,2,-500\n", "points.csv", {{"x", "m"}, {"air", "K"}});
  REQUIRE(columns.size() == 2);
  CHECK(columns[0][0] == base::test::near(0.25));
  CHECK(columns[0][1] == base::test::near(-0.5));
  CHECK(columns[1][0] == base::test::near(293.15));  // zero of degC: 273.15 K, SI brochure 2.3.4
  CHECK(columns[1][1] == base::test::near(295.65));
}

TEST_CASE("a circle by angle: deviations are added to the radius, radii are taken whole") {
  const auto off = read_circle("angle deg,deviation um\n0,10\n90,-20\n", "circle.csv", 0.15);
  REQUIRE(off.size() == 2);
  CHECK(off[0].x_m == base::test::near(0.15001));
  CHECK(off[1].y_m == base::test::near(0.14998));
  const auto whole = read_circle("angle deg,radius mm\n0,150.01\n90,149.98\n", "circle.csv", 0.3);
  CHECK(whole[0].x_m == base::test::near(0.15001));
  CHECK(whole[1].y_m == base::test::near(0.14998));
}

}  // namespace evenbeam::squareness
