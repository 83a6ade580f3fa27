#pragma once
// Inner part of motion_fit.h.
#include "identification/motion_fit.h"

namespace evenbeam::identification {

// The same fit with other intervals, of `covariance` of its unknowns; `rows` those it was made on.
MotionFit with_covariance(const MotionFit& fit, const MotionRows& rows, const Eigen::MatrixXd& covariance,
                          double span_m);

}  // namespace evenbeam::identification
