#include "machine/machine.h"

#include <cmath>
#include <numbers>

namespace evenbeam::machine {

std::optional<double> reflected_mass_kg(const Side& side) {
  if (side.drive_mass_kg) return side.drive_mass_kg;
  if (!side.drive_inertia_kg_m2 || !side.lead_m) return std::nullopt;
  const double rad_per_m = 2 * std::numbers::pi / *side.lead_m;
  return *side.drive_inertia_kg_m2 * rad_per_m * rad_per_m;
}

CarriageRange carriage_range(const Machine& machine) {
  const double assumed = 0.4 * machine.span_m;
  return {machine.carriage_min_y_m.value_or(-assumed), machine.carriage_max_y_m.value_or(assumed),
          !machine.carriage_min_y_m || !machine.carriage_max_y_m};
}

std::optional<double> nameplate_mass_kg(const Machine& machine, double payload_kg) {
  double sum = payload_kg;
  for (const auto& part : {machine.bridge_mass_kg, machine.end_mass_a_kg, machine.end_mass_b_kg,
                           machine.carriage_mass_kg, reflected_mass_kg(machine.a), reflected_mass_kg(machine.b)}) {
    if (!part) return std::nullopt;
    sum += *part;
  }
  return sum;
}

}  // namespace evenbeam::machine
