#pragma once
// An invented machine with papers for everything that the limits stand on, and how a station's numbers are read.
#include <doctest/doctest.h>

#include "limits/limits_station.h"

namespace evenbeam::limits::test {

inline machine::Machine example() {
  machine::Machine m;
  m.name = "example";
  m.span_m = 1.6;
  m.bridge_mass_kg = 120;
  m.end_mass_a_kg = m.end_mass_b_kg = 15;
  m.carriage_mass_kg = 40;
  m.carriage_min_y_m = -0.6;
  m.carriage_max_y_m = 0.6;
  m.a.peak_force_n = m.b.peak_force_n = 1000;
  m.a.drive_mass_kg = m.b.drive_mass_kg = 30;
  m.guides = {.ends = machine::EndKind::bolted,
              .carriages_a_side = 2,
              .spacing_m = 0.25,
              .static_rating_n = 30e3,
              .static_safety = 3};
  return m;
}

inline double value_of(const base::StationOutcome& out, const char* key) {
  const base::Value* value = base::find_value(out.result, key);
  REQUIRE(value);
  REQUIRE(std::holds_alternative<double>(value->value));
  return std::get<double>(value->value);
}

}  // namespace evenbeam::limits::test
