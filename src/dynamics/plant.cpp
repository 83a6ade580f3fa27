#include "dynamics/plant.h"

namespace evenbeam::dynamics {

double total_mass_kg(const Plant& p) {
  return p.fixed_mass_kg + p.carriage_mass_kg + p.payload_kg + p.a.motor_mass_kg + p.b.motor_mass_kg;
}

double first_moment_kg_m(const Plant& p) {
  return p.fixed_moment_kg_m + (p.carriage_mass_kg + p.payload_kg) * p.carriage_y_m +
         (p.b.motor_mass_kg - p.a.motor_mass_kg) * p.span_m / 2;
}

double yaw_inertia_kg_m2(const Plant& p) {
  const double arm2 = p.carriage_y_m * p.carriage_y_m + p.carriage_ahead_m * p.carriage_ahead_m;
  return p.fixed_inertia_kg_m2 + (p.carriage_mass_kg + p.payload_kg) * arm2 +
         (p.a.motor_mass_kg + p.b.motor_mass_kg) * p.span_m * p.span_m / 4;
}

double balanced_share(const Plant& p) { return 0.5 - first_moment_kg_m(p) / (total_mass_kg(p) * p.span_m); }

}  // namespace evenbeam::dynamics
