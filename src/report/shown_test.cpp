#include "report/shown.h"

#include <doctest/doctest.h>

#include "base/near_test.h"

using namespace evenbeam::report;

TEST_CASE("numbers carry the digits that their interval supports") {
  const ShownUnit mm = shown_unit("m", {});
  CHECK(mm.symbol == "mm");
  CHECK(with_unit(shown_number(4.6e-5, mm, 4.4e-5, 4.8e-5), mm) == "0.0460 mm");
  CHECK(shown_number(412.3, {}, 405.1, 419.5) == "412");
  CHECK(shown_number(412.3, {}, 411.1, 413.5) == "412.3");
  CHECK(shown_number(9.99, {}, 9.5, 10.5) == "10.0");
  CHECK(shown_number(0.5, {}) == "0.5");
  CHECK(shown_number(0, mm, -1e-5, 1e-5) == "0");
}

TEST_CASE("units as people write them; unknown ones stay as they are") {
  CHECK(shown_unit("N*m/rad", {}).symbol == "N·m/rad");
  CHECK(shown_unit("kg*m^2", {}).symbol == "kg·m²");
  CHECK(shown_unit("m", {"um", "N"}).symbol == "µm");
  CHECK(shown_unit("m", {"um", "N"}).factor == evenbeam::base::test::near(1e6));
  CHECK(shown_unit("1", {}).symbol == "");
  CHECK(shown_unit("furlong", {}).symbol == "furlong");
  CHECK(shown_unit("furlong", {}).factor == 1);
  CHECK(shown_angle(3, {}).symbol == "°");
  CHECK(shown_angle(0.01, {}).symbol == "mrad");
}
