#pragma once
// The 2x2 response of dynamics/linear_response.h at many frequencies at once, for sweeps over plants and gains.
// The beam's coordinates are turned into those of its ends, (x_A, x_B, bending, carriage), so that each motor touches
// its own end only and folds into the 2x2 block of the ends (Schur complement):
//   p = Z_motor,  s = k + jwc:   Z_end -= s^2/p,   a force at the motor acts on the end as s/p of it
// bending and carriage follow as scalars, and the 2x2 block that is left is inverted in closed form.
// Assumes what linear_response.h assumes; pivots are not searched, so that an undamped motor exactly at its own
// resonance on its drive loses digits (a damped one keeps them: the test compares with the LU solution).
#include <vector>

#include "dynamics/linear_response.h"

namespace evenbeam::dynamics {

// Frequencies with what hold, delay and current lag make of them: the same for all plants of one control.
struct ResponseLines {
  std::vector<double> angular_rad_per_s;  // > 0
  double hold_period_s = 0, delay_s = 0, current_lag_s = 0;
  std::vector<double> path_real, path_imag;
};
ResponseLines response_lines(std::vector<double> angular_rad_per_s, double hold_period_s, double delay_s,
                             double current_lag_s);

// out is given the size of the lines. The plant's delay and lag are not read: those of `lines` count.
void responses(const Plant& plant, const ResponseLines& lines, std::vector<SideResponse>& out);

}  // namespace evenbeam::dynamics
