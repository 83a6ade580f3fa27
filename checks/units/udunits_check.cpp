// Every unit that both this table and the UDUNITS-2 library know must convert alike, dimension and factor. The
// library is an independent table (its XML is installed with it). What differs on purpose, or is spelled otherwise
// there, is named here with the reason.
#include <doctest/doctest.h>
#include <udunits2.h>

#include <memory>
#include <string>

#include "base/near_test.h"
#include "units/unit.h"
#include "units/unit_table.h"

namespace evenbeam::units {
namespace {

using System = std::unique_ptr<ut_system, decltype(&ut_free_system)>;
using Other = std::unique_ptr<ut_unit, decltype(&ut_free)>;

System other_system() {
  ut_set_error_message_handler(ut_ignore);
  return System(ut_read_xml(nullptr), ut_free_system);
}
Other other_unit(const System& system, const std::string& text) {
  return Other(ut_parse(system.get(), text.c_str(), UT_UTF8), ut_free);
}

// The other library's spelling of a symbol, "" where it has another meaning there or none.
std::string other_spelling(const Symbol& symbol) {
  const std::string text(symbol.text);
  if (text == "g") return "gram";  // udunits reads g as standard gravity or gram by version; the word is clear
  if (text == "mg") return "milligram";
  if (text == "deg") return "arc_degree";
  if (text == "arcmin") return "arc_minute";
  if (text == "arcsec") return "arc_second";
  if (text == "Nm") return "N.m";
  if (text == "kNm") return "kN.m";
  if (text == "mNm") return "mN.m";
  if (text == "Ns") return "N.s";
  if (text == "kNs") return "kN.s";
  if (text == "Nms") return "N.m.s";
  if (text == "usec") return "us";
  if (text == "msec") return "ms";
  if (text == "in") return "inch";
  if (text == "ft") return "foot";
  if (text == "lb") return "pound";
  if (text == "lbf") return "pound_force";
  if (text == "ppm") return "1e-6";
  // A turn is a plain number here (lead a turn, turns a minute) and 2 pi rad there.
  if (text == "rev" || text == "turn" || text == "rpm") return "";
  return text;
}

void compare(const System& system, const std::string& ours, const std::string& theirs, const std::string& si) {
  CAPTURE(ours);
  CAPTURE(theirs);
  const auto unit = find_unit(ours);
  const Other other = other_unit(system, theirs);
  const Other base = other_unit(system, si);
  REQUIRE(unit);
  REQUIRE(other);
  REQUIRE(base);
  REQUIRE(ut_are_convertible(other.get(), base.get()));
  std::unique_ptr<cv_converter, decltype(&cv_free)> convert(ut_get_converter(other.get(), base.get()), cv_free);
  for (double value : {-3.0, 1.0, 250.0})
    CHECK(value * unit->factor + unit->offset ==
          base::test::near(cv_convert_double(convert.get(), value)).epsilon(1e-14));
}

// SI text of a dimension in a spelling both read. The other library takes rad as a plain number, so dimensions with
// and without angle cannot be told apart by it; the own tests do that.
std::string si_text(const Dimension& d) {
  std::string text = "1";
  const auto part = [&](const char* symbol, int power) {
    if (power != 0) text += "." + std::string(symbol) + "^" + std::to_string(power);
  };
  part("m", d.length);
  part("kg", d.mass);
  part("s", d.time);
  part("A", d.current);
  part("rad", d.angle);
  part("K", d.temperature);
  return text;
}

}  // namespace

TEST_CASE("each symbol converts as in udunits") {
  const System system = other_system();
  REQUIRE(system);
  int compared = 0;
  for (const Symbol& symbol : symbols()) {
    const std::string theirs = other_spelling(symbol);
    if (theirs.empty()) continue;
    compare(system, std::string(symbol.text), theirs, si_text(symbol.dimension));
    ++compared;
  }
  CHECK(compared + 3 == static_cast<int>(symbols().size()));
}

TEST_CASE("products, quotients and powers convert as in udunits") {
  const System system = other_system();
  REQUIRE(system);
  for (const char* text :
       {"m/s",   "mm/s^2", "m/s2",   "kg m2", "kg*m^2", "kg.cm2", "N/um",     "kN/mm",   "N m/rad", "kN*m/mrad",
        "N s/m", "m/min",  "mm/s^3", "s-1",   "1/min",  "m2",     "kg m s-2", "N/(m/s)", "ft/min",  "µm/s"}) {
    std::string ours = text;
    for (char& c : ours)
      if (c == '.') c = '*';
    compare(system, ours, text, si_text(find_unit(ours)->dimension));
  }
}

}  // namespace evenbeam::units
