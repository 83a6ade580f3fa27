#pragma once
// The bridge on two drives as a set of numbers: what `fit` finds, `loops` tunes for and the virtual gantry runs.
// Equations: docs/equations.md. Frame and signs: docs/notation.md (skew = x_A - x_B, theta = skew/span).
// Real newtons; force_scale turns commanded (nameplate) newtons into real ones.
// delay_s counts from the instant a position is sampled to the instant the force computed from it begins to be held:
// the one period of the loop law (docs/loop-law.md) is in it, half a period of the hold is not.
#include <string>
#include <vector>

namespace evenbeam::dynamics {

struct PlantSide {
  double motor_mass_kg = 0;            // m_m, motor and drive referred to x; >= 0
  double drive_stiffness_n_per_m = 0;  // k between motor and bridge end; 0 = rigid
  double drive_damping_n_s_per_m = 0;  // c
  double coulomb_n = 0;                // friction at the bridge end, >= 0
  double viscous_n_s_per_m = 0;        // >= 0
  double force_scale = 1;              // real force per commanded force; > 0
};

struct Plant {
  double span_m = 0;               // L > 0
  double fixed_mass_kg = 0;        // bridge and both ends: all but carriage, payload, motors
  double fixed_moment_kg_m = 0;    // their first moment about mid-span, sum m y
  double fixed_inertia_kg_m2 = 0;  // their yaw inertia about mid-span
  double carriage_mass_kg = 0;     // carriage without payload
  double payload_kg = 0;
  double carriage_y_m = 0;               // y_c
  double carriage_ahead_m = 0;           // h
  double yaw_stiffness_n_m_per_rad = 0;  // K_th
  double yaw_damping_n_m_s_per_rad = 0;  // C_th
  double stress_free_skew_m = 0;         // s_free = span * theta_free
  PlantSide a, b;
  double bending_hz = 0;           // first bending of the bridge, free of the drives; 0 = rigid beam
  double bending_damping = 0.01;   // ratio
  double bending_mass_kg = 0;      // modal mass with mode shape 1 at mid-span
  double delay_s = 0;              // pure delay beyond the hold
  double current_lag_s = 0;        // first-order lag of the force
  bool feedback_on_motor = false;  // positions are read at the motors, else at the bridge ends
  // Shape of the bending at the rails, 1 at mid-span: free uniform beam here; towards 0 with heavy ends
  // (dynamics/beam.h).
  double bending_end_shape = -1.645;      // -1.6453 .. 0
  double carriage_stiffness_n_per_m = 0;  // carriage with payload against the bridge, along x; 0 = rigid
  double carriage_damping_n_s_per_m = 0;
};

// Every rule a plant must keep, as sentences with field and value; empty = fine.
std::vector<std::string> plant_troubles(const Plant& plant);
// Brings the fixed moment inside what fixed mass and inertia allow (S^2 < J M): for plants drawn part by part.
void bound_moment(Plant& plant);

// Everything on rigid drives (docs/equations.md, eq. 1-3).
double total_mass_kg(const Plant& plant);      // M
double first_moment_kg_m(const Plant& plant);  // S
double yaw_inertia_kg_m2(const Plant& plant);  // J about mid-span
double balanced_share(const Plant& plant);     // 1/2 - S/(M L), real newtons
// The same as a controller must be given it: sigma/g_A / (sigma/g_A + (1 - sigma)/g_B), g the force scales.
double balanced_commanded_share(const Plant& plant);

}  // namespace evenbeam::dynamics
