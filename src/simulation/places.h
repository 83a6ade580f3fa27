#pragma once
// The plant's equations in the stepper's coordinates: bridge ends first. Private to this room.
//   new = forward q,  M_new = forward^-T M forward^-1 (virtual work), likewise C and K
#include <Eigen/Core>

#include "dynamics/plant.h"

namespace evenbeam::simulation {

struct Places {
  int count = 0;
  int motor_a = 0, motor_b = 1;     // the end's place where the drive is rigid
  int bending = -1, carriage = -1;  // -1 where the plant has none
  Eigen::MatrixXd mass, damping, stiffness;
};
Places places(const dynamics::Plant& plant);

}  // namespace evenbeam::simulation
