#include "machine/describe.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "machine/machine_file.h"

namespace evenbeam::machine {
namespace {

Described row(const std::vector<Described>& rows, const std::string& label) {
  const auto at = std::find_if(rows.begin(), rows.end(), [&](const Described& one) { return one.label == label; });
  REQUIRE_MESSAGE(at != rows.end(), label);
  return *at;
}

}  // namespace

TEST_CASE("what is stated is shown in the person's units, what is not is called unknown") {
  const auto rows = describe(read_machine(
      "span = \"2.2 m\"\nlength_unit = \"mm\"\nforce_unit = \"kN\"\n[side]\ndrive = \"screw\"\nlead = \"20 mm\"\n"
      "drive_inertia = \"15.2 kg*cm^2\"\npeak_force = \"2600 N\"\ncount = \"0.5 um\"\n"
      "[[move]]\nname = \"long\"\ndistance = \"0.9 m\"\nspeed = \"1 m/s\"\nacceleration = \"5 m/s^2\"\njerk = \"120 "
      "m/s^3\"\n",
      "m.toml"));
  CHECK(row(rows, "Distance between the rails").value == "2200 mm");
  CHECK(row(rows, "Side A: peak force at 100 % output").value == "2.600 kN");
  CHECK(row(rows, "Side B: travel of a count").value == "0.500 um");
  CHECK(row(rows, "Side A: inertia at that turning axis").value == "15.20 kg*cm^2");
  CHECK(row(rows, "Side A: drive mass referred to x").value == "150.0 kg");
  CHECK(row(rows, "Move 'long'").value == "900.0 mm, 1000 mm/s, 5000 mm/s^2, 120000 mm/s^3");
  CHECK(row(rows, "Bridge mass, beam alone").value == "unknown");
  CHECK_FALSE(row(rows, "Bridge mass, beam alone").known);
  CHECK(row(rows, "Bridge: centre of mass across").value == "unknown (taken in the middle)");
  CHECK(row(rows, "Side A: drive").known);
}

TEST_CASE("no row is empty, no label stands there twice") {
  std::set<std::string> labels;
  for (const Described& one : describe(read_machine("span = \"2.2 m\"\n", "m.toml"))) {
    CHECK_FALSE(one.value.empty());
    CHECK_MESSAGE(labels.insert(one.label).second, one.label);
    CHECK((one.known || one.value.starts_with("unknown")));
  }
}

}  // namespace evenbeam::machine
