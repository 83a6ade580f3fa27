#include "units/unit.h"

#include <doctest/doctest.h>

#include <random>
#include <string>
#include <vector>

#include "base/near_test.h"
#include "units/unit_table.h"

namespace evenbeam::units {

namespace {
constexpr Dimension inertia{.length = 2, .mass = 1};
constexpr Dimension yaw_stiffness{.length = 2, .mass = 1, .time = -2, .angle = -1};

double factor_of(const std::string& text) {
  const auto unit = find_unit(text);
  REQUIRE_MESSAGE(unit.has_value(), text);
  return unit->factor;
}
}  // namespace

TEST_CASE("every symbol of the table is found as itself, and no symbol stands there twice") {
  std::vector<std::string_view> seen;
  for (const Symbol& symbol : symbols()) {
    CAPTURE(symbol.text);
    const auto unit = find_unit(symbol.text);
    REQUIRE(unit);
    CHECK(unit->dimension == symbol.dimension);
    CHECK(unit->factor == symbol.numerator / symbol.denominator);
    for (const auto other : seen) CHECK(other != symbol.text);
    seen.push_back(symbol.text);
  }
}

TEST_CASE("the spellings of one unit agree") {
  const std::vector<std::vector<std::string>> families = {
      {"kg*m^2", "kg m2", "kg·m²", "kg m²", "kg⋅m^2", "kgm2", "kgm²", "m^2*kg", " kg * m^2 "},
      {"kg*cm^2", "kg cm2", "kgcm²", "kg·cm²"},
      {"N*m/rad", "N m/rad", "Nm/rad", "N·m/rad", "N m rad^-1", "N*m*rad⁻¹"},
      {"um", "µm", "μm", "\xB5m", "micron"},
      {"m/s^2", "m/s2", "m/s²", "m s^-2", "m s-2", "m s⁻²", "m/s/s", "m/(s*s)", "m/(s^2)"},
      {"N*s/m", "N s/m", "Ns/m", "N/(m/s)", "kg/s"},
      {"1/s", "s^-1", "s⁻¹", "Hz"},
      {"deg", "°", "\xB0"},
      {"1/min", "rpm", "rev/min"},
  };
  for (const auto& family : families)
    for (const std::string& text : family) {
      CAPTURE(text);
      const auto unit = find_unit(text);
      REQUIRE(unit);
      CHECK(unit->factor == base::test::near(factor_of(family.front())).epsilon(1e-15));
      CHECK(unit->dimension == find_unit(family.front())->dimension);
    }
  CHECK(find_unit("kgm2")->dimension == inertia);
  CHECK(find_unit("Nm/rad")->dimension == yaw_stiffness);
  CHECK_FALSE(find_unit("N*m")->dimension == yaw_stiffness);
}

TEST_CASE("decimal prefixes stay exact in quotients and powers") {
  CHECK(factor_of("N/um") == 1e6);
  CHECK(factor_of("N/nm") == 1e9);
  CHECK(factor_of("kg*cm^2") == 1e-4);
  CHECK(factor_of("mm/s^3") == 1e-3);
  CHECK(factor_of("1/ms") == 1e3);
}

TEST_CASE("what could mean two things, or nothing, is refused") {
  for (const char* text :
       {"",       " ",      "MM",     "Mm",     "KG",     "hz",   "count", "counts", "mil",
        "Nm^2",   "Nm2",    "kgm",    "N/m*s",  "m/",     "/s",   "m//s",  "m**2",   "m^",
        "m^-",    "m^0",    "m99",    "m^7",    "2m",     "11",   "(m",    "m)",     "()",
        "degC/s", "1/degC", "degC^2", "degC*m", "A(rms)", "Arms", "m;",    "m\n",    "((((((((((m))))))))))"}) {
    CAPTURE(text);
    CHECK_FALSE(find_unit(text));
  }
}

TEST_CASE("quantities: number and unit, and nothing else") {
  const auto value = [](const char* text) {
    const auto quantity = parse_quantity(text);
    REQUIRE_MESSAGE(quantity.has_value(), text);
    return quantity->value_si;
  };
  CHECK(value("2.2 m") == 2.2);
  CHECK(value("20mm") == 0.02);
  CHECK(value("+0.5 um") == 0.5e-6);
  CHECK(value("12.5 um") == 12.5e-6);  // number / 1e6, not number * 1e-6: that is one unit in the last place away
  CHECK(value("10 µm") == 10e-6);
  CHECK(value("-0.85 m") == -0.85);
  CHECK(value("\xE2\x88\x92"
              "0.85 m") == -0.85);
  CHECK(value("  2600 N ") == 2600);
  CHECK(value("1.52e-3 kg m2") == 1.52e-3);
  CHECK(value(".5 mm") == 0.0005);
  CHECK(value("12 %") == 0.12);
  CHECK(value("8/s") == 8);
  CHECK(value("8 1/s") == 8);
  CHECK(value("20 degC") == base::test::near(293.15).epsilon(1e-15));
  CHECK(value("0.25") == 0.25);
  CHECK(parse_quantity("0.25")->unit.symbol.empty());
  CHECK(parse_quantity("2.2 m")->unit.symbol == "m");
  for (const char* text :
       {"", "m", "2,2 m", "1 000 N", "1.2.3 m", "nan m", "inf m", "infinity", "--1 m", "+-1 m", "1e400 m", "0x10 m",
        "1e308 km", "2 m m m m m m m m m x", "five m", "5 parsec", "-", "+", "- 5 m"}) {
    CAPTURE(text);
    CHECK_FALSE(parse_quantity(text));
  }
}

TEST_CASE("numbers are printed with the digits that count") {
  CHECK(print_quantity(0.00012, "m", "mm") == "0.120 mm");
  CHECK(print_quantity(0.0012345, "m", "mm") == "1.234 mm");
  CHECK(print_quantity(0.0123456, "m", "mm") == "12.35 mm");
  CHECK(print_quantity(-0.0123456, "m", "mm", 3) == "-12.3 mm");
  CHECK(print_quantity(12345.6, "N", "N") == "12346 N");
  CHECK(print_quantity(12345.6, "N", "kN") == "12.35 kN");
  CHECK(print_quantity(0.43712, "1", "") == "0.437");
  CHECK(print_quantity(0.43712, "1", "%") == "43.71 %");
  CHECK(print_quantity(0, "m", "mm") == "0 mm");
  CHECK(print_quantity(1.2e-8, "m", "m") == "1.200e-08 m");
  CHECK(print_quantity(293.15, "K", "degC") == "20.00 degC");
  CHECK(print_quantity(std::numeric_limits<double>::quiet_NaN(), "m", "mm") == "unknown");
  CHECK(print_quantity(std::numeric_limits<double>::infinity(), "m", "mm") == "infinite mm");
  CHECK_THROWS(print_quantity(1, "m", "N"));
}

TEST_CASE("shown units follow the person's length and force") {
  CHECK(shown_unit("m", "um", "N") == "um");
  CHECK(shown_unit("N", "mm", "kN") == "kN");
  CHECK(shown_unit("m/s^2", "mm", "N") == "mm/s^2");
  CHECK(shown_unit("N/m", "um", "N") == "N/um");
  CHECK(shown_unit("m/N", "um", "N") == "um/N");
  CHECK(shown_unit("1", "mm", "N").empty());
  for (const char* unit :
       {"m", "m/s", "m/s^2", "m/s^3", "N", "N/m", "m/N", "rad", "s", "kg", "kg*m^2", "N*m/rad", "Hz", "N*s/m"}) {
    CAPTURE(unit);
    CHECK(find_unit(shown_unit(unit, "mm", "kN"))->dimension == find_unit(unit)->dimension);
  }
}

TEST_CASE("every dimension is described, named ones with examples that are units of it") {
  for (const DimensionName& row : dimension_names()) {
    CAPTURE(row.name);
    CHECK(describe(row.dimension).find(row.name) == 0);
    if (row.dimension == Dimension{}) continue;
    std::string examples(row.examples);
    for (size_t at = 0; at < examples.size();) {
      const size_t comma = std::min(examples.find(", ", at), examples.size());
      const auto unit = find_unit(examples.substr(at, comma - at));
      REQUIRE(unit);
      CHECK(unit->dimension == row.dimension);
      at = comma + 2;
    }
  }
  CHECK(describe({.length = 3, .mass = -1}) == "a quantity in kg^-1*m^3");
}

TEST_CASE("random text is a quantity or it is not, and never anything worse; what is one is finite") {
  const unsigned seed = 20240611;
  CAPTURE(seed);
  std::mt19937 random(seed);
  const std::string letters = "0123456789.eE+-*/^() mkgNsraduµ²°C%\t\xC2\xE2\xB5";
  for (int i = 0; i < 50000; ++i) {
    std::string text;
    for (size_t n = random() % 14; n > 0; --n) text += letters[random() % letters.size()];
    const auto quantity = parse_quantity(text);
    if (quantity && !(quantity->value_si - quantity->value_si == 0)) FAIL("not finite: " << text);
  }
}

}  // namespace evenbeam::units
