#pragma once
// The machine of a published-figures study, every number known (120 kg beam, two ends of 20 kg, 60 kg carriage, 2 m,
// K_th 4e6 N m/rad, C_th 3e3, Coulomb 40 N on A and 70 N on B, B's force constant 3 % low, counts of 0.1 um, 4 kHz
// with one sample of delay; move 0.8 m, 1.5 m/s, 10 m/s^2, 200 m/s^3), here with the bending of its beam besides.
#include "dynamics/beam.h"
#include "identification/identify.h"
#include "machine/machine.h"

namespace evenbeam::checks {

inline machine::Machine known_papers() {
  machine::Machine m;
  m.span_m = 2;
  m.a.peak_force_n = m.b.peak_force_n = 2500;
  m.a.count_m = m.b.count_m = 1e-7;
  m.carriage_min_y_m = -0.7, m.carriage_max_y_m = 0.7, m.carriage_y_m = 0.7;
  m.servo_period_s = 1.0 / 4000;
  m.moves = {{"there and back", 0.8, 1.5, 10, 200}};
  return m;
}

inline identification::Identified known_fit() {
  identification::Identified id;
  id.plant_known = true;
  dynamics::Plant& p = id.plant;
  p.span_m = 2;
  p.fixed_mass_kg = 120 + 2 * 15, p.fixed_inertia_kg_m2 = 120 * 4 / 12.0 + 2 * 15;
  p.carriage_mass_kg = 60, p.carriage_y_m = 0.7;
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e3;
  // 5 of the 20 kg of each end ride on the motor's side; linear motors: rigid drives
  p.a = {.motor_mass_kg = 5, .coulomb_n = 40, .force_scale = 1};
  p.b = {.motor_mass_kg = 5, .coulomb_n = 70, .force_scale = 0.97};
  // steel box of 120 kg on 2 m, EI 3.2e6 N m^2 (invented): first free bending with 20 kg ends
  const dynamics::BridgeBending bend = dynamics::bridge_bending(3.2e6, 120, 2, 15);
  p.bending_hz = bend.hz, p.bending_mass_kg = bend.modal_mass_kg, p.bending_end_shape = bend.end_shape;
  p.bending_damping = 0.01;
  p.delay_s = 1.0 / 4000;
  return id;
}

}  // namespace evenbeam::checks
