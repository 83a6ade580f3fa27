#pragma once
// The neutral loop law, whole (docs/loop-law.md): positions of both sides in, commanded (nameplate) newtons of both
// sides out, every sample. Coordinates mean q_m = (x_A + x_B)/2 and skew q_s = x_A - x_B.
//   f_m = u_m + mass_ff a_ref,  f_s = u_s + skew_ff s_ref''
//   F_A = sigma f_m + f_s + Fc_A g + B_A v_ref + offset_A,  F_B = (1 - sigma) f_m - f_s + Fc_B g + B_B v_ref +
//   offset_B g = clamp(v_ref/v_0, -1, 1); each side clipped to its peak force.
// Timing: the force returned at sample k acts from t_{k+1} to t_{k+2}; that delay of one period is the caller's to
// make (dynamics::Plant::delay_s includes it).
// Description (LoopLaw, const), state (LoopState) and result (Forces) are apart; a step allocates nothing.
#include "machine/settings.h"
#include "servo/coordinate.h"

namespace evenbeam::servo {

// What a trajectory asks at one sample. Skew is a coordinate with a reference of its own, mostly zero.
struct Reference {
  double mean_m = 0, mean_m_per_s = 0, mean_m_per_s2 = 0;
  double skew_m = 0, skew_m_per_s = 0, skew_m_per_s2 = 0;
};

struct Forces {
  double a_n = 0, b_n = 0;     // after the clip
  int clip_a = 0, clip_b = 0;  // +1 clipped from above, -1 from below, 0 not
};

struct LoopLaw {
  CoordinateLaw mean, skew;
  double share = 0.5;
  double mass_ff_kg = 0, skew_ff_kg = 0;
  double coulomb_a_n = 0, coulomb_b_n = 0;
  double per_ramp_s_per_m = 0;  // 1/v_0
  double viscous_a_n_s_per_m = 0, viscous_b_n_s_per_m = 0;
  double offset_a_n = 0, offset_b_n = 0;
  double peak_a_n = 0, peak_b_n = 0;
};

struct LoopState {
  CoordinateState mean, skew;
  int clip_a = 0, clip_b = 0;  // of the step before
};

// All rules a settings struct must keep; empty = fine.
std::vector<base::Trouble> check_settings(const machine::Settings& settings);
// Throws base::InputError with all troubles.
LoopLaw prepare(const machine::Settings& settings);

Forces step(const LoopLaw& law, LoopState& state, const Reference& reference, double position_a_m,
            double position_b_m);

// Steps 5 to 7: feed-forward, share and clip on top of what feedback asks of each side. Writes the clips of this
// step.
struct Feedback {
  double a_n = 0, b_n = 0;
};
Forces share_and_clip(const LoopLaw& law, LoopState& state, const Reference& reference, const Feedback& feedback);

// Where the coordinates are closed on a standing bridge: the first difference is then zero, as the law says.
inline LoopState fresh_state() { return {}; }

}  // namespace evenbeam::servo
