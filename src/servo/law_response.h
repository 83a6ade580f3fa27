#pragma once
// The same law as a linear system, for margins and closed loops. Exact while no side clips and |v_ref| keeps off the
// Coulomb ramp; feed-forward is left out of C and kept in the state-space form's reference inputs.
//   F = -C(z) [x_A, x_B],  C = [C_AA C_AB; C_BA C_BB]
//   C_AA = sigma C_m/2 + C_s, C_AB = sigma C_m/2 - C_s, C_BA = (1-sigma) C_m/2 - C_s, C_BB = (1-sigma) C_m/2 + C_s
//   C_q(z) = Kv (1 + (T/Ti) z/(z-1)) (Kp + V(z)) prod H_i(z),  V(z) = alpha (z-1) / (T (z - (1-alpha)))
#include <array>
#include <complex>

#include "math/state_space.h"
#include "servo/loop_law.h"

namespace evenbeam::servo {

// C_m or C_s at z = exp(j w T): newtons per metre.
std::complex<double> response(const CoordinateLaw& law, double angular_rad_per_s);

struct SideResponse {
  std::complex<double> aa, ab, ba, bb;
};
SideResponse combine(double share, std::complex<double> mean, std::complex<double> skew);
SideResponse response(const LoopLaw& law, double angular_rad_per_s);

// Discrete state space of the unclipped law. Inputs: x_A, x_B, then r_m, r_m', a_ref, r_s, r_s', s_ref''.
// Outputs: F_A, F_B. Viscous feed-forward is in the r_m' column; Coulomb feed-forward and offsets are not (constant).
inline constexpr int law_inputs = 8;
math::StateSpace state_space(const LoopLaw& law);

}  // namespace evenbeam::servo
