#pragma once
// The linear part of the gantry's equations of motion, carriage standing (docs/equations.md, eq. 4-8):
//   M q'' + C q' + K q = (motor rows)^T F_motor + (end rows)^T F_end + K_th theta_free on theta,
//   x_measured = (feedback rows) q
// Coordinates, those that exist for the plant, in this order: motor A, motor B (elastic drives only), mean x_m, yaw
// theta, bending eta (bending_hz > 0), carriage z against the bridge (carriage stiffness > 0). A rigid drive's motor
// is one with its bridge end. Place of the beam: x(y) = x_m - theta y + phi(y) eta. Assumes small theta; guide yaw
// stiffness and damping act on theta alone; bending free of the drives is one mode, orthogonal to the rigid motion of
// bridge and ends. Coulomb friction is not here (viscous is).
#include <Eigen/Core>

#include "dynamics/plant.h"

namespace evenbeam::dynamics {

inline constexpr int most_coordinates = 6;
using MotionMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most_coordinates, most_coordinates>;
using MotionRow = Eigen::Matrix<double, 1, Eigen::Dynamic, Eigen::RowMajor, 1, most_coordinates>;
using MotionVector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most_coordinates, 1>;

// Place of each coordinate in q; -1 where the plant has none.
struct Coordinates {
  int motor_a = -1, motor_b = -1, mean = -1, yaw = -1, bending = -1, carriage = -1, count = 0;
};

struct Motion {
  Coordinates at;
  MotionMatrix mass, damping, stiffness;
  MotionRow motor_a, motor_b;        // position of the motors from q; also where motor forces act
  MotionRow end_a, end_b;            // of the bridge ends at the rails; where friction, stops and brakes act
  MotionRow feedback_a, feedback_b;  // what the loops read
  MotionRow carriage;                // place of the carriage along x
};

// Throws base::Bug for a plant that plant_troubles() finds fault with.
Motion motion(const Plant& plant);

}  // namespace evenbeam::dynamics
