#pragma once
// What the forces do along the rails, at even speed, where a recording goes over the same places both ways.
//   d' = (F_A - F_B)/2 - K/L^2 (s - s_free)      the fight without the yaw spring
//   S  = F_A + F_B                               both
// mean of there and back:  d'(x) a pull or a strain, S(x) a pull on the whole bridge; neither keeps friction
// half of there less back: friction of each side, c_A(x) = dS/4 + dd'/2, c_B(x) = dS/4 - dd'/2 with d = there less
// back Inertia has no part at even speed. A constant d' cannot be told from the stress-free skew; its change along x
// can. Without a fit the spring is taken from the skew steps (spread of d over spread of s: friction helps it,
// so that it is the true one or a stiffer one, and sizes come out too large rather than too small); without those
// only recordings that hold the read skew within 20 counts are used. Source: derived in docs/causes.md from the two
// equations of docs/equations.md, "Motion fit".
#include <string>
#include <vector>

#include "identification/motion_fit.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

struct ForceAlongX {
  std::string recording;
  double from_s = 0, to_s = 0;
  double spring_n_per_m = 0;                        // taken out; 0: not known, and the skew was held
  std::vector<double> x_m;                          // centres of the places, along +x
  std::vector<double> fight_there_n, fight_back_n;  // d'
  std::vector<double> pull_n;                       // S, mean of there and back
  std::vector<double> friction_a_n, friction_b_n;   // of each side
};

// Of the recording that covers the longest way; x_m is empty where none goes there and back evenly over eight places.
ForceAlongX force_along_x(const std::vector<recording::Recording>& recordings, const identification::MotionFit& fit);

// The unit of size, N: mean of both sides' Coulomb friction by the fit; without one their friction at that speed,
// viscous part included; 0 where there is no map either.
double friction_of_a_side(const identification::MotionFit& fit, const ForceAlongX& map);

}  // namespace evenbeam::diagnosis
