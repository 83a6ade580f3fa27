#pragma once
// Inner part of modes: Gauss-Newton on chosen poles together with all residues, D and the dead time, other poles
// held:
//   dH = sum dR_k/(s - p_k) + [mirror] + dD + sum_chosen dp_k R_k/(s - p_k)^2 + [mirror] - s H d_delay.
// Covariance = (J'J)^-1 times the mean square of what the model leaves.
#include <array>
#include <vector>

#include "signal/vector_fit.h"

namespace evenbeam::signal {

struct PolishedPole {
  math::Complex pole;
  double hz = 0, hz_sd = 0, damping_ratio = 0, damping_ratio_sd = 0;
  math::Complex2x2 residue;
  std::array<double, 4> residue_sd{};  // root of E|dR|^2 of aa, ab, ba, bb
};

struct Polished {
  std::vector<PolishedPole> poles;  // one for each index in `chosen` (pairs of the model); standard deviations
                                    // infinite where the step has no answer
  double delay_change_s = 0;        // to be added to the dead time taken out of `data`; 0 unless free
};
Polished polish_poles(RationalData data, const RationalModel& model, const std::vector<std::size_t>& chosen,
                      bool free_delay);

}  // namespace evenbeam::signal
