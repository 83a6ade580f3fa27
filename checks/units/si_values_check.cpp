// Conversion factors against published exact values. Sources, from memory of the documents named (none was open):
// [SI] BIPM, The International System of Units, 9th edition (2019), tables 4, 7 and 8;
// [811] NIST Special Publication 811, 2008 edition, appendix B.8 (factors printed bold there are exact).
#include <doctest/doctest.h>

#include "base/near_test.h"
#include "units/unit.h"

namespace evenbeam::units {

TEST_CASE("published conversion factors") {
  struct Row {
    const char* symbol;
    double si;
    const char* source;
  };
  constexpr double pi = 3.14159265358979323846;
  const Row rows[] = {
      {"in", 0.0254, "[811] inch, exact"},
      {"ft", 0.3048, "[811] foot, exact"},
      {"lb", 0.45359237, "[811] pound avoirdupois, exact"},
      {"lbf", 4.4482216152605, "[811] pound-force; B.8 prints 4.448222"},
      {"lbf*in", 0.1129848290276167, "product of the two exact factors; [811] prints 1.129848 E-01"},
      {"lbf/in", 175.1268, "[811] pound-force per inch, 1.751268 E+02"},
      {"min", 60, "[SI] table 8, exact"},
      {"h", 3600, "[SI] table 8, exact"},
      {"deg", pi / 180, "[SI] table 8"},
      {"arcmin", pi / 10800, "[SI] table 8"},
      {"arcsec", pi / 648000, "[SI] table 8; [811] prints 4.848137 E-06"},
      {"t", 1000, "[SI] table 8, exact"},
      {"rpm", 1.0 / 60, "[811] revolution per minute as a frequency, 1.666667 E-02"},
      {"ft/min", 5.08e-3, "[811] foot per minute, exact"},
      {"ft/s^2", 0.3048, "[811] foot per second squared, exact"},
      {"m/min", 1.0 / 60, "[SI] metre and minute"},
      {"deg/s", 1.745329e-2, "[811] degree per second"},
      {"kg*cm^2", 1e-4, "[SI] table 7, centi squared"},
      {"N/um", 1e6, "[SI] table 7, micro"},
  };
  for (const Row& row : rows) {
    CAPTURE(row.symbol);
    CAPTURE(row.source);
    const auto unit = find_unit(row.symbol);
    REQUIRE(unit);
    CHECK(unit->factor == base::test::near(row.si).epsilon(5e-7));  // the printed digits of [811]
  }
  CHECK(find_unit("in")->factor == 0.0254);  // exact to the bit
  CHECK(find_unit("ft")->factor == 0.3048);
  CHECK(find_unit("degC")->offset == 273.15);  // [SI] 2.3.1, exact
  CHECK(find_unit("arcsec")->factor == base::test::near(4.84813681109536e-6).epsilon(1e-14));
}

}  // namespace evenbeam::units
