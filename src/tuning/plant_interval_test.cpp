#include "tuning/plant_interval.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "dynamics/sample_plant_test.h"

namespace evenbeam::tuning {
namespace {

constexpr int kCount = 24;

std::vector<Part> all_parts() {
  std::vector<Part> out;
  for (int k = 0; k < kCount; ++k) out.push_back(static_cast<Part>(k));
  return out;
}

bool ends_with(const std::string& name, const char* end) { return name.ends_with(end); }

}  // namespace

TEST_CASE("every part is a number of its own, and a machine seen in a mirror has A's where the other has B's") {
  dynamics::Plant plant = dynamics::test::full_plant(), mirror = dynamics::test::mirrored(plant);
  std::set<double*> places;
  std::set<std::string> names;
  int of_sides = 0;
  for (const Part part : all_parts()) {
    const std::string name = name_of(part);
    CAPTURE(name);
    CHECK(places.insert(&value_of(plant, part)).second);
    CHECK(names.insert(name).second);
    if (!ends_with(name, " A") && !ends_with(name, " B")) {
      const double sign = part == Part::fixed_moment ? -1 : 1;
      CHECK(value_of(mirror, part) == sign * value_of(plant, part));
      continue;
    }
    const std::string other = name.substr(0, name.size() - 1) + (ends_with(name, " A") ? "B" : "A");
    for (const Part partner : all_parts())
      if (name_of(partner) == other) {
        ++of_sides;
        CHECK(value_of(mirror, partner) == value_of(plant, part));
      }
  }
  CHECK(of_sides == 12);
}

// The fit's own way from its parameters to a plant says which number each unknown is.
TEST_CASE("an unknown of the grey-box fit moves its own part of the plant and no other") {
  using namespace identification;
  dynamics::Plant plant = dynamics::test::full_plant();
  const Eigen::VectorXd fitted = grey_parameters(plant);
  plant = grey_plant(plant, fitted);
  for (int j = kGreyMotorA; j < kGreyCount; ++j) {
    CAPTURE(grey_name(j));
    dynamics::Plant moved = grey_plant(plant, fitted + 0.1 * Eigen::VectorXd::Unit(fitted.size(), j));
    for (const Part part : all_parts())
      CHECK((value_of(moved, part) != value_of(plant, part)) == (part == part_of_grey(j)));
  }
}

// All masses, springs, dampers and forces twice as large answer commanded forces as before; times, frequencies and
// shapes are then the same, everything else is not.
TEST_CASE("what does not grow with the common scale of force is a time, a frequency or a shape") {
  for (const Part part : all_parts()) {
    const std::string name = name_of(part);
    CAPTURE(name);
    const bool expected = name == "delay" || name == "current lag" || name == "bending frequency" ||
                          name == "bending damping" || name == "bending shape at the ends";
    CHECK(is_time_or_shape(part) == expected);
  }
}

}  // namespace evenbeam::tuning
