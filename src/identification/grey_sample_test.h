#pragma once
// The plant that the tests of the grey box stand on: nothing in it is zero, nothing alike on both sides.
#include "dynamics/plant.h"

namespace evenbeam::identification::test {

inline dynamics::Plant sample() {
  dynamics::Plant p;
  p.span_m = 1.5;
  p.fixed_mass_kg = 120;
  p.fixed_moment_kg_m = 4;
  p.fixed_inertia_kg_m2 = 40;
  p.carriage_mass_kg = 30;
  p.carriage_y_m = 0.3;
  p.yaw_stiffness_n_m_per_rad = 4e5;
  p.yaw_damping_n_m_s_per_rad = 300;
  p.a = {40, 2e7, 2e3, 0, 120, 1.02};
  p.b = {44, 1.6e7, 3e3, 0, 90, 0.98};
  p.bending_hz = 70;
  p.bending_damping = 0.02;
  p.bending_mass_kg = 60;
  p.bending_end_shape = -0.8;
  p.delay_s = 2e-4;
  p.current_lag_s = 4e-4;
  return p;
}

}  // namespace evenbeam::identification::test
