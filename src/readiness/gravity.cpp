#include "readiness/gravity.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace evenbeam::readiness {

LiftedMass lifted_mass(const machine::Machine& m, double carriage_y_m, double payload_kg,
                       std::vector<std::string>& missing) {
  LiftedMass out;
  const auto add = [&](const std::optional<double>& mass_kg, double y_m, const char* name) {
    if (!mass_kg && std::find(missing.begin(), missing.end(), name) == missing.end()) missing.emplace_back(name);
    out.mass_kg += mass_kg.value_or(0);
    out.moment_kg_m += mass_kg.value_or(0) * y_m;
  };
  add(m.bridge_mass_kg, m.bridge_centre_y_m.value_or(0), "bridge");
  add(m.end_mass_a_kg, -m.span_m / 2, "end_mass_a");
  add(m.end_mass_b_kg, m.span_m / 2, "end_mass_b");
  add(m.carriage_mass_kg, carriage_y_m, "carriage");
  add(payload_kg, carriage_y_m, "payload");
  if (m.a.drive == machine::DriveKind::linear_motor) add(reflected_mass_kg(m.a), -m.span_m / 2, "motor A");
  if (m.b.drive == machine::DriveKind::linear_motor) add(reflected_mass_kg(m.b), m.span_m / 2, "motor B");
  return out;
}

SideForces gravity_forces(const LiftedMass& mass, double span_m, double tilt_rad) {
  const double pull_per_kg = standard_gravity_m_per_s2 * std::sin(tilt_rad);
  const double half = mass.mass_kg / 2, shift = mass.moment_kg_m / span_m;
  return {pull_per_kg * (half - shift), pull_per_kg * (half + shift)};
}

GravityLoad gravity_load(const machine::Machine& machine, double tilt_rad) {
  GravityLoad load;
  const machine::CarriageRange range = carriage_range(machine);
  for (const double y_m : {range.min_y_m, range.max_y_m})
    for (const double payload_kg :
         {machine.payload_min_kg, machine.payload_max_kg.value_or(machine.payload_min_kg)}) {
      const SideForces f =
          gravity_forces(lifted_mass(machine, y_m, payload_kg, load.missing), machine.span_m, tilt_rad);
      load.a_n = std::max(load.a_n, std::abs(f.a_n));
      load.b_n = std::max(load.b_n, std::abs(f.b_n));
      load.both_n = std::max(load.both_n, std::abs(f.a_n + f.b_n));
    }
  return load;
}

double hold_margin(double hold_n, double load_n) { return hold_n / load_n; }

}  // namespace evenbeam::readiness
