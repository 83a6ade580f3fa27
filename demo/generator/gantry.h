#pragma once
// A dual-drive gantry as the generator sees it: two motors on springs, a bridge that shifts, yaws and bends, guides
// that hold it in yaw, friction with memory at both ends.
//
// Coordinates q = (u_A, u_B, X, theta, w): motors referred to x, mean of the bridge ends, yaw, bending. A point of
// the beam at y moves X - theta y + w cos(pi y / L); A at y = -L/2, B at +L/2, so x_A - x_B = L theta. theta counts
// from the attitude in which the guides carry no moment; positions given out have the stress-free skew added back.
//
//   mass q'' + damping q' + stiffness q = motor force and tooth ripple - friction
//   friction at each end (bristle model): z' = v - s0 |v| z / g(v),  r = s0 z + s1 z',  viscous part in `damping`
//   g(v) = coulomb + (breakaway - coulomb) exp(-(v/v_s)^2)
//   motor force f' = (scale u - f) / lag, u the commanded force held over a servo period
//
// The linear part is stepped exactly (matrix exponential), friction and ripple as an impulse between two half steps:
// second order in the step. Assumes small yaw, carriage at rest along the beam, no play, no end stops.
#include <array>
#include <vector>

#include "small_matrix.h"

namespace generator {

struct TrueSide {
  double motor_mass_kg = 0;            // motor and drive referred to x
  double drive_stiffness_n_per_m = 0;  // motor to bridge end
  double drive_damping_n_s_per_m = 0;
  double coulomb_n = 0, breakaway_n = 0;
  double stribeck_speed_m_per_s = 0.004;
  double bristle_travel_m = 5e-6;  // deflection at breakaway before it slides
  double viscous_n_s_per_m = 0;
  double force_scale = 1;  // real over nameplate
  double ripple_n = 0, ripple_pitch_m = 0.005, ripple_phase_rad = 0;
  double mark_m = 0;  // true place of the reference mark along the rail
};

struct TrueGantry {
  double span_m = 0;
  double bridge_mass_kg = 0;     // beam alone
  double bridge_centre_y_m = 0;  // density grows linearly along y to put it there
  double end_mass_a_kg = 0, end_mass_b_kg = 0;
  double carriage_mass_kg = 0, payload_kg = 0, carriage_y_m = 0, carriage_ahead_m = 0;
  double yaw_stiffness_n_m_per_rad = 0, yaw_damping_n_m_s_per_rad = 0;
  double stress_free_skew_m = 0;  // x_A - x_B, in true places, where the guides carry no moment
  double bending_stiffness_n_per_m = 0, bending_damping_n_s_per_m = 0;  // of w
  double current_lag_s = 0.0003;
  TrueSide a, b;
};

inline constexpr std::size_t coordinates = 5, states = 12;  // q, q', and the two motor forces
using Coordinates = Matrix<coordinates, coordinates>;

Coordinates mass_matrix(const TrueGantry& gantry);
Coordinates stiffness_matrix(const TrueGantry& gantry);
Coordinates damping_matrix(const TrueGantry& gantry);

// Everything on rigid drives, by summing over the parts: total mass, first moment, yaw inertia about mid-span.
struct RigidSums {
  double mass_kg = 0, moment_kg_m = 0, inertia_kg_m2 = 0;
};
RigidSums rigid_sums(const TrueGantry& gantry);
// Natural frequencies without friction or loops, ascending, the free movement along x left out.
std::vector<double> mode_hz(const TrueGantry& gantry);
// First bending of the bridge with carriage, ends and guides, taken off its drives.
double bending_hz(const TrueGantry& gantry);

struct GantryState {
  std::array<double, states> x{};  // q, q', motor forces
  double bristle_a_m = 0, bristle_b_m = 0;
};

// What must not be built again for every step.
struct Stepper {
  TrueGantry gantry;
  double step_s = 0;
  Matrix<states, states> half_step;
  Matrix<states, 2> half_step_input;
  Coordinates inverse_mass;
};
Stepper make_stepper(const TrueGantry& gantry, double step_s);
void step(const Stepper& stepper, GantryState& state, double commanded_a_n, double commanded_b_n);

struct Ends {
  double a = 0, b = 0;
};
Ends end_places_m(const TrueGantry& gantry, const GantryState& state);
Ends motor_places_m(const TrueGantry& gantry, const GantryState& state);
Ends end_speeds_m_per_s(const TrueGantry& gantry, const GantryState& state);
// The bridge at rest with its ends at these true places, drives relaxed.
GantryState at_rest(const TrueGantry& gantry, double place_a_m, double place_b_m);
// Kinetic energy and all springs, bristles included.
double stored_energy_j(const TrueGantry& gantry, const GantryState& state);

}  // namespace generator
