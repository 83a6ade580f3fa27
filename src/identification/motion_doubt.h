#pragma once
// Inner part of motion_fit.h: what a window's answers leave open beyond the scatter of its rows joins its covariance.
#include <cstddef>
#include <vector>

#include "identification/motion_rows.h"
#include "identification/robust_regression.h"

namespace evenbeam::identification {

// The fit of one window.
struct Attempt {
  MotionRows rows;
  RegressionResult result;
  double bandwidth_hz = 0;
  double disturbed = 0;  // part of the fight's variance by skew that stays unexplained
  // K/L^2 s_free of the row's switch-on
  double skew_offset(Eigen::Index row) const {
    double sum = 0;
    for (Eigen::Index j = kFixedCount; j < result.x.size(); ++j) sum -= rows.regression.a(row, j) * result.x[j];
    return sum;
  }
};

// Ripple and friction that the law does not know move the bridge; the skew they cause goes with them, and pulls
// every coefficient of the fight towards zero by about the part of the fight's variance that stays unexplained
// (errors in variables). That part times the coefficients joins the covariance, as one common factor.
void widen_by_disturbance(Attempt& attempt, bool response_known);
// What the choice of window leaves open joins the uncertainty: the largest step to another agreeing window or the
// next wider one, as far as that window's own uncertainty does not explain it.
void widen_by_windows(std::vector<Attempt>& attempts, std::size_t chosen, double payload_kg);
// Instruments are free of the loops' answer to what no force on record moves, but far coarser: the values stay those
// of least squares, and both uncertainties and the step between the two join, for each unknown and for what they
// share.
void widen_by_instruments(Attempt& attempt);
// A response was measured and no plant follows it: something that is no force on record moves the skew, and then the
// fight's coefficients are pulled by more than their rows show.
void distrust_fight(RegressionResult& result);

}  // namespace evenbeam::identification
