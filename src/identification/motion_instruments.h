#pragma once
// Where no response tells the fight's numbers: the motion fit with instruments. Ripple and friction that the law does
// not know move the skew, loops answer them with the fight, and least squares then takes the loops for the guides
// (feedback bias; the residual cannot show it, since a stiff loop leaves none). The mean motion is the reference's
// and hardly any disturbance's: skew, as far as the mean motion of its recording foretells it, is free of the
// disturbance.
//   Z = (1, v, a, a', a'', direction) of the mean, a recording;  S^ = Z (Z'Z)^-1 Z'S for every column S made of skew
//   x = (A^' W A + P)^-1 (A^' W y + P m),  covariance: sandwich of the rows of A^ over clusters
// Two-stage least squares (Theil 1953; Wooldridge, Econometric Analysis of Cross Section and Panel Data, ch. 5; from
// memory).
#include "identification/motion_rows.h"

namespace evenbeam::identification {

struct InstrumentResult {
  bool done = false;
  Eigen::VectorXd x;
  Eigen::MatrixXd covariance;
};

// `ordinary`: the solution of the same rows by least squares; its spreads are the weights.
InstrumentResult solve_by_instruments(const MotionRows& rows, const RegressionResult& ordinary);

}  // namespace evenbeam::identification
