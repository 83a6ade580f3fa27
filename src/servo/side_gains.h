#pragma once
// The same settings for a controller with one loop a side plus cross gains: what to enter, and what is lost.
//   C_AA = sigma C_m/2 + C_s, C_AB = sigma C_m/2 - C_s, C_BA = (1-sigma) C_m/2 - C_s, C_BB = (1-sigma) C_m/2 + C_s
// Where both coordinates have equal Kp, Ti, velocity filter and biquads, C_m = Kv_m H and C_s = Kv_s H, and every
// C_ij is a gain times one law H: exact while nothing clips. Independent sides (no cross gains) are exact only if
// besides sigma = 1/2 and Kv_s = Kv_m/4 (then C_AB = C_BA = 0).
#include <string>
#include <vector>

#include "machine/settings.h"

namespace evenbeam::servo {

struct SideGains {
  // Velocity gains, N s/m, from velocity error of the second side to force of the first.
  double aa = 0, ab = 0, ba = 0, bb = 0;
  // The one law H of all four where `exact_with_cross`; the mean's loop otherwise.
  machine::CoordinateLoop law;
  bool exact_with_cross = false;   // four gains and one law say the same as the settings
  bool exact_independent = false;  // the two cross gains are zero as well
  // Largest relative departure of the 2x2 response from the settings', over 200 frequencies to half the rate:
  double loss_with_cross = 0;     // of four gains and one law
  double loss_independent = 0;    // of aa and bb alone (cross gains dropped)
  std::vector<std::string> lost;  // sentences for the sheet
};
SideGains side_gains(const machine::Settings& settings);

}  // namespace evenbeam::servo
