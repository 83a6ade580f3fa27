#pragma once
// Invented plants for tests of this and upper rooms.
#include <random>

#include "dynamics/plant.h"

namespace evenbeam::dynamics::test {

// A medium gantry, all parts present, no symmetry.
inline Plant full_plant() {
  Plant p;
  p.span_m = 1.8;
  p.fixed_mass_kg = 170, p.fixed_moment_kg_m = 4, p.fixed_inertia_kg_m2 = 85;
  p.carriage_mass_kg = 48, p.payload_kg = 12, p.carriage_y_m = 0.35, p.carriage_ahead_m = 0.06;
  p.yaw_stiffness_n_m_per_rad = 2.1e6, p.yaw_damping_n_m_s_per_rad = 900, p.stress_free_skew_m = 6e-5;
  p.a = {95, 6.5e7, 6000, 42, 180, 1.02};
  p.b = {102, 5.9e7, 5500, 61, 230, 0.97};
  p.bending_hz = 78, p.bending_damping = 0.015, p.bending_mass_kg = 130, p.bending_end_shape = -0.9;
  p.carriage_stiffness_n_per_m = 4e7, p.carriage_damping_n_s_per_m = 2500;
  p.delay_s = 2.3e-4, p.current_lag_s = 2.5e-4;
  return p;
}

inline Plant rigid_plant() {
  Plant p = full_plant();
  p.a.drive_stiffness_n_per_m = p.b.drive_stiffness_n_per_m = 0;
  p.bending_hz = 0, p.carriage_stiffness_n_per_m = 0;
  return p;
}

// y to -y, A to B.
inline Plant mirrored(Plant p) {
  std::swap(p.a, p.b);
  p.fixed_moment_kg_m = -p.fixed_moment_kg_m;
  p.carriage_y_m = -p.carriage_y_m;
  p.stress_free_skew_m = -p.stress_free_skew_m;
  return p;
}

template <class Draw>
Plant random_plant(Draw& draw) {
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(draw);
  };
  Plant p;
  p.span_m = between(0.6, 4);
  p.fixed_mass_kg = between(30, 600);
  p.fixed_moment_kg_m = p.fixed_mass_kg * p.span_m * between(-0.05, 0.05);
  p.fixed_inertia_kg_m2 = p.fixed_mass_kg * p.span_m * p.span_m * between(0.08, 0.2);
  p.carriage_mass_kg = between(5, 100), p.payload_kg = between(0, 30);
  p.carriage_y_m = p.span_m * between(-0.4, 0.4), p.carriage_ahead_m = between(-0.1, 0.1);
  p.yaw_stiffness_n_m_per_rad = between(1e4, 5e6), p.yaw_damping_n_m_s_per_rad = between(10, 3000);
  p.stress_free_skew_m = between(-1e-4, 1e-4);
  for (PlantSide* side : {&p.a, &p.b}) {
    *side = {between(5, 150),    between(0, 1) < 0.3 ? 0 : between(1e6, 2e8),
             between(500, 8000), between(5, 120),
             between(0, 400),    between(0.9, 1.1)};
  }
  if (between(0, 1) < 0.7) p.bending_hz = between(30, 250), p.bending_mass_kg = between(0.4, 0.8) * p.fixed_mass_kg;
  p.bending_end_shape = between(-1.6, -0.3);
  if (between(0, 1) < 0.5)
    p.carriage_stiffness_n_per_m = between(5e6, 1e8), p.carriage_damping_n_s_per_m = between(200, 4000);
  p.delay_s = between(0, 5e-4), p.current_lag_s = between(0, 1) < 0.5 ? 0 : between(1e-4, 1e-3);
  p.feedback_on_motor = between(0, 1) < 0.3;
  return p;
}

}  // namespace evenbeam::dynamics::test
