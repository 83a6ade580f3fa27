#pragma once
// A fit that knows the yaw spring and nothing else, for the tests of this room to fill in.
#include <Eigen/Core>

#include "identification/motion_fit.h"
#include "identification/motion_rows.h"

namespace evenbeam::diagnosis {

// K/L^2 = 2e6 N/m, no covariance.
inline identification::MotionFit spring_fit() {
  identification::MotionFit fit;
  fit.done = true;
  const Eigen::Index n = identification::kFixedCount + 1;
  fit.x = Eigen::VectorXd::Zero(n);
  fit.x[identification::kStiffness] = 2e6;
  fit.covariance = Eigen::MatrixXd::Zero(n, n);
  return fit;
}

}  // namespace evenbeam::diagnosis
