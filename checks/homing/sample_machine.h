#pragma once
// A bridge and its loops for checks against the virtual gantry. Invented.
#include "homing/search_replay.h"

namespace evenbeam::checks {

inline constexpr double span_m = 2, coulomb_n = 40, viscous_n_s_per_m = 150;

inline homing::VirtualMachine sample_machine() {
  dynamics::Plant p;
  p.span_m = span_m, p.fixed_mass_kg = 300, p.fixed_inertia_kg_m2 = 110, p.carriage_mass_kg = 60,
  p.carriage_y_m = 0.4;
  p.yaw_stiffness_n_m_per_rad = 4e5, p.yaw_damping_n_m_s_per_rad = 400;
  for (dynamics::PlantSide* side : {&p.a, &p.b})
    side->motor_mass_kg = 40, side->coulomb_n = coulomb_n, side->viscous_n_s_per_m = viscous_n_s_per_m;
  p.delay_s = 3e-4, p.current_lag_s = 2e-4;
  machine::Settings s;
  s.period_s = 2.5e-4, s.share = 0.47, s.mass_ff_kg = 440, s.coulomb_ramp_m_per_s = 0.002;
  s.coulomb_ff_a_n = s.coulomb_ff_b_n = coulomb_n;
  s.viscous_ff_a_n_s_per_m = s.viscous_ff_b_n_s_per_m = viscous_n_s_per_m;
  s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.mean = {20, 40000, 0.06, 1000, {}};
  s.skew = {20, 9000, 0.06, 1000, {}};
  return {p, s};
}

}  // namespace evenbeam::checks
