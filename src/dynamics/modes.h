#pragma once
// Oscillating modes of a plant with open loops: eigenvalues of the continuous system without current lag.
//   lambda = -zeta w +- j w sqrt(1 - zeta^2),  hz = w/2pi
// The shape is the part of the eigenvector in phase with its largest place, scaled to that place = 1 (places along
// x). Rigid travel (and whatever is overdamped) is not an oscillation and not listed. Coulomb friction is left out.
#include <string>
#include <vector>

#include "dynamics/plant.h"

namespace evenbeam::dynamics {

struct Mode {
  double hz = 0;
  double damping = 0;  // ratio, 0..1
  // Movement along x, largest 1 in size.
  double motor_a = 0, motor_b = 0, end_a = 0, end_b = 0, middle = 0, carriage = 0;
  std::string name;  // "yaw", "bending", "drives together", "drives opposed", "carriage" by the largest part
};
std::vector<Mode> modes(const Plant& plant);  // rising frequency

}  // namespace evenbeam::dynamics
