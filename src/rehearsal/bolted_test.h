#pragma once
// The machine of the hand cases.
#include "rehearsal/virtual_machine.h"

namespace evenbeam::rehearsal::test {

// Bolted, span 2 m, K_th 2e5 N m/rad, yaw well damped so that hand calculation at standing yaw applies; 200 kg in
// all.
inline VirtualMachine bolted(double carriage_y_m = 0) {
  VirtualMachine m;
  dynamics::Plant& p = m.gantry.plant;
  p.span_m = 2;
  p.fixed_mass_kg = 150, p.fixed_inertia_kg_m2 = 80;
  p.carriage_mass_kg = 50, p.carriage_y_m = carriage_y_m;
  p.yaw_stiffness_n_m_per_rad = 2e5, p.yaw_damping_n_m_s_per_rad = 5000;
  p.stress_free_skew_m = 0.0001;
  p.a.coulomb_n = 60, p.b.coulomb_n = 40;
  p.delay_s = 0.0005;
  m.gantry.effects.a.peak_force_n = m.gantry.effects.b.peak_force_n = 1000;
  m.loops = soft_loops(p, 0.0005, 1000, 1000);
  m.carriage = {-0.7, 0.7, false};
  return m;
}

}  // namespace evenbeam::rehearsal::test
