#pragma once
// The gantry as a linear system: 2x2 response from commanded (nameplate) newtons of A and B to measured positions of
// A and B, and the same sampled exactly.
//   G(jw) = H(jw) e^{-jw delay} X_fb (-w^2 M + jw C + K)^{-1} X_motor^T diag(force_scale) / (1 + jw lag)
//   H = (1 - e^{-jwT})/(jwT) where a hold period T is given, else 1.
// Assumes: no Coulomb friction, carriage standing. G with the hold leaves out aliases; sampled() is exact at the
// samples (fractional delay split at the instant where the held force changes). docs/equations.md, eq. 9-12.
#include <complex>
#include <vector>

#include "dynamics/motion.h"
#include "math/state_space.h"

namespace evenbeam::dynamics {

// xy: position of side x, force on side y.
struct SideResponse {
  std::complex<double> aa, ab, ba, bb;
};

struct ResponseModel {
  Motion motion;
  double force_scale_a = 1, force_scale_b = 1;
  double delay_s = 0, current_lag_s = 0;
  double hold_period_s = 0;  // 0 = no hold
};
ResponseModel response_model(const Plant& plant, double hold_period_s);
SideResponse response(const ResponseModel& model, double angular_rad_per_s);  // w > 0
std::vector<SideResponse> linear_response(const Plant& plant, double hold_period_s,
                                          const std::vector<double>& angular_rad_per_s);

// Continuous, without the delay. States q, q', then the lagged real force of A and B where current_lag_s > 0.
math::StateSpace continuous(const Plant& plant);
// Exact at t_k = k T with zero-order hold and the whole delay_s; states as above, then past commands.
math::StateSpace sampled(const Plant& plant, double period_s);

}  // namespace evenbeam::dynamics
