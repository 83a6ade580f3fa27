#pragma once
// The closed loop as one discrete linear system: is it stable, how fast does it ring, how does it follow a reference.
//   plant (exact, with delay and hold):  x+ = A x + B u,  y = C x;   law:  z+ = Ac z + Bc [y; r],  u = Cc z + Dc [y;
//   r] [x; z]+ = [A + B Dc_y C, B Cc; Bc_y C, Ac] [x; z] + ...
// Assumes no clip, no Coulomb friction, no quantisation, carriage standing. Plant::delay_s holds the law's own period
// of delay. Gains are in commanded newtons, the plant's force_scale turns them into real ones.
#include <complex>
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"
#include "math/state_space.h"

namespace evenbeam::simulation {

// Inputs: r_m, r_m', a_ref, r_s, r_s', s_ref'' (servo::state_space order), then disturbance forces added to the
// outputs of A and B (commanded newtons). Outputs: measured x_A, x_B, commanded F_A, F_B (without the disturbance).
inline constexpr int loop_inputs = 8, loop_outputs = 4;
math::StateSpace closed_loop(const dynamics::Plant& plant, const machine::Settings& settings);

struct Ringing {
  double hz = 0, damping = 0;  // of z = exp(s T)
};
struct Stability {
  bool stable = false;
  double spectral_radius = 0;    // < 1 is stable
  std::vector<Ringing> ringing;  // oscillating eigenvalues, least damped first
};
Stability stability(const dynamics::Plant& plant, const machine::Settings& settings);

}  // namespace evenbeam::simulation
