#pragma once
// Drives that find their electrical angle roughly at power-up correct it at the mark. From angles read at the mark
// after several power-ups: with e_k the error of power-up k, the drive reads phi_k = phi + e_k there, phi the angle
// the mark truly has. phi is the one stated, else the circular mean of those read (errors of power-up without bias,
// to be settled by an exact method). Until the mark the force is lost by 1 - cos e_k, and a worse power-up must be
// expected: the sd of e with its exact two-sided tolerance factor for 95 % of power-ups at 95 % confidence
// (math/tolerance.h). After the correction phi - phi_k what is left is how well phi is known.
// Beyond 90 degrees the force pushes the other way: a stop whatever the limit.
#include <optional>
#include <vector>

#include "machine/homing.h"

namespace evenbeam::homing {

inline constexpr double kAssumedLossLimit = 0.02;  // 11.5 degrees; common practice, no source

struct AngleAtMark {
  bool done = false;                        // at least two angles, or one and the true angle
  double angle_rad = 0;                     // phi, -pi..pi: what to store for the mark
  bool angle_stated = false;                // by the maker or an exact method, not the mean
  double bias_rad = 0;                      // stated: mean error of power-up
  std::vector<double> correction_rad;       // phi - phi_k of each power-up
  double spread_rad = 0;                    // sd of phi_k
  double largest_error_rad = 0;             // of those read, from phi
  double expected_error_rad = 0;            // not exceeded by 95 % of power-ups, 95 % confidence
  double loss_seen = 0, loss_expected = 0;  // 1 - cos; 1 and more: the force turns round
  double loss_after = 0;                    // with the correction, phi at the end of its 95 % interval
};

AngleAtMark angle_at_mark(const machine::ElectricalAngles& angles);

}  // namespace evenbeam::homing
