#pragma once
// The virtual gantry: a plant with its effects, stepped by one servo period at a time.
//   linear part exactly (held input forces), friction by a bristle staggered half a step against it, second order:
//   z_{k+1/2} = z_{k-1/2} e(a) + h v_k e(a)(1 + a/2 + a^2/6),  a = sigma0 |v_k| h/g(v_k),  e = 1/(1 + a + a^2/2 +
//   a^3/6)
// Places: x_A and x_B are the bridge ends themselves (not mean and yaw), then elastic motors, bending, carriage.
// Commands are nameplate newtons; the command given at t_k acts from t_k + Plant::delay_s for one period.
// Assumes small yaw and that the carriage stands (for one that travels: simulation/moving_carriage.h). No event is
// located: stops and stick are smooth on the scale of a step (docs/simulation.md shows what that costs). Description
// (GantryModel), state and result apart; a step allocates nothing, draws random numbers only from the state's own
// seed.
#include <array>
#include <cstdint>

#include "dynamics/effects.h"
#include "dynamics/plant.h"

namespace evenbeam::simulation {

inline constexpr int most_states = 12;  // 2 x coordinates
inline constexpr int most_delay = 16;   // periods

struct Gantry {
  dynamics::Plant plant;
  dynamics::Effects effects;
  double longest_step_s = 1e-4;  // upper bound of a substep; shorter where friction or stops ask for it
};

// One part of the period with its own substep: before and after the arrival of the new command.
struct Segment {
  int steps = 0;
  double step_s = 0;
  // Of the first substep, after another length: middle to middle, and h/2 over the substep before. Then h and 1/2.
  double first_length_s = 0, first_look_ahead = 0.5;
  double lag_left = 0;  // exp(-h/lag); 0 without lag
  // Columns: state, then constant motor force A, B, end force A, B, motor transient A, B. Column-major, states rows.
  std::array<double, most_states*(most_states + 6)> columns{};
};

struct SideModel {
  dynamics::Bristle bristle;
  double inverse_coulomb_per_n = 0, inverse_stribeck_speed_s_per_m = 0, fade_s_per_m = 0;  // sigma1/4Fc
  double brake_stiffness_n_per_m = 0;
  double force_scale = 1;
  int motor = 0;                       // place of the motor's position in the state: the end's own where rigid
  int feedback = 0;                    // place read by the loop
  double bias_n = 0;                   // constant force at the end: stress-free skew, cable
  double drive_stiffness_n_per_m = 0;  // 0 = rigid
  dynamics::SideEffects effects;
};

struct GantryModel {
  Gantry description;
  int coordinates = 0;  // states = 2 x coordinates
  double period_s = 0;
  int whole_delay = 0;  // periods
  bool lag = false, stribeck = false, stops = false, cogging = false, brakes = false, spots = false, play = false;
  bool wave = false;      // stress-free skew along x, or play in yaw
  Segment before, after;  // `before` may have no steps
  SideModel a, b;
  double yaw_force_per_skew_n_per_m = 0;  // K_th/L^2: end forces from stress-free skew
};

// What has been broken, changeable at any sample: hooks for defects and faults. Everything neutral as it stands.
struct Broken {
  double output_factor = 1;      // of the commanded force; 0 = drive dead
  double output_added_n = 0;     // commanded newtons
  bool frozen_feedback = false;  // keeps its last count
  double feedback_added_m = 0;   // a slip or jump
  double feedback_factor = 1;
  double friction_factor = 1;  // of Coulomb and Stribeck force
  bool brake_stuck_open = false, brake_stuck_closed = false;
  double brake_extra_close_s = 0;
  double force_added_n = 0;  // real newtons at the end (something pushes)
  double noise_factor = 1;
};

struct SideState {
  double bristle_m = 0, brake_bristle_m = 0;
  double damped_before_n = 0;  // sigma1 z' of the bristle a substep ago
  double speed_before_m_per_s = 0;
  double lagged_n = 0;      // real force after the current lag
  double brake = 0;         // 0 open, 1 closed
  double brake_left_s = 0;  // until the commanded state is reached
  bool brake_wanted = false;
  double last_read_m = 0;
  double friction_n = 0;                           // result of the last substep, at the end
  std::array<double, most_delay + 2> waiting_n{};  // commands not yet arrived, newest first
  Broken broken;
};

struct GantryState {
  std::array<double, most_states> x{};  // positions, then velocities
  SideState a, b;
  std::uint64_t noise = 1;  // seed and state of the noise
  double time_s = 0;
};

// Throws base::InputError with all troubles of plant, effects and period.
GantryModel prepare(const Gantry& gantry, double period_s);

// Standing at mean place and skew, springs of drives relaxed; friction bristles relaxed unless `held`: then they
// carry what keeps the bridge where it is, up to Coulomb force (a bridge that was left standing).
GantryState standing(const GantryModel& model, double mean_m, double skew_m, std::uint64_t seed, bool held = true);

struct Commands {
  double a_n = 0, b_n = 0;                // commanded (nameplate) newtons
  bool brake_a = false, brake_b = false;  // true = close
};
// One servo period.
void advance(const GantryModel& model, GantryState& state, const Commands& commands);

struct Read {
  double a_m = 0, b_m = 0;
};
// What the loops see at this instant: late sampling, scale, pitch error, noise, count.
Read read_feedback(const GantryModel& model, GantryState& state);

// True values.
inline double end_a_m(const GantryState& s) { return s.x[0]; }
inline double end_b_m(const GantryState& s) { return s.x[1]; }

// Kinetic and elastic energy, with bristles, brakes and stops; J. For energy laws and stops.
double energy_j(const GantryModel& model, const GantryState& state);

}  // namespace evenbeam::simulation
