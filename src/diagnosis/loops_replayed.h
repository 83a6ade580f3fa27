#pragma once
// Do the outputs recorded come from the loops that the recording is said to be made with? The loop law is a known
// function of references and positions, so it is played again on those recorded (docs/loop-law.md) and its fight held
// against the recorded one:  y = (F_A - F_B)/2 recorded,  z = the same of the law,  left = rms(y - z - mean)/rms(y -
// mean)
//   skew loop's gain:  y = (sigma - 1/2)(F_A + F_B) + gamma u_s: gamma by least squares, 1 where it is as stated
//   follower, independent, cross-coupled: built from the stated settings as servo/structures.h does, gain 1
// The constant is the integral at the recording's start, which no record holds. Needs every period of the loops.
#include <string>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::diagnosis {

struct ReplayedLoops {
  bool asked = false;      // loops stated, every period recorded, references of both sides there
  double gain_factor = 1;  // gamma
  double gain_sd = 0;      // of it
  double left_as_stated = 1, left_with_gain = 1;  // parts of the fight's spread
  double left_follower = 1, left_independent = 1, left_cross_coupled = 1;
  double fight_rms_n = 0;        // spread of y
  std::size_t from = 0, to = 0;  // samples used: up to where an output goes off
};
ReplayedLoops replay_loops(const recording::Recording& recording);

}  // namespace evenbeam::diagnosis
