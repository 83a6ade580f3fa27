#pragma once
// The settings with which the loop law's test vectors (data/) were made.
#include "machine/settings.h"

namespace evenbeam::checks {

inline machine::Settings vector_settings(double period_s, double peak_n) {
  machine::Settings s;
  s.period_s = period_s;
  s.share = 0.47, s.mass_ff_kg = 600, s.skew_ff_kg = 105;
  s.coulomb_ff_a_n = 60, s.coulomb_ff_b_n = 85, s.coulomb_ramp_m_per_s = 0.001;
  s.viscous_ff_a_n_s_per_m = 200, s.viscous_ff_b_n_s_per_m = 260;
  s.offset_a_n = 4, s.offset_b_n = -7;
  s.peak_force_a_n = s.peak_force_b_n = peak_n;
  s.mean = {30, 45000, 0.06, 1500, {}};
  s.skew = {60, 9000, 0.04, 900, {}};
  return s;
}

}  // namespace evenbeam::checks
