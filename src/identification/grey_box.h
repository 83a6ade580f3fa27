#pragma once
// Grey-box fit: the plant of docs/equations.md to a measured 2x2 response.
//   minimise  sum over lines and entries |(G_model - G)/sigma|^2  (Huber beyond 3)  +  |(p - known)/spread|^2
// sigma: grey_lines.h. Known beforehand: the moving mass of the motion fit, the papers, the delay
// that the controller is said to have. The misfit has many local minima: starts on a grid of yaw, drive and bending
// frequencies, all carried a few steps, the better ones further, the best few to the end. A best fit that leaves the
// response outside what noise and allowance grant (most_misfit) is no answer.
// The hold of a known servo period is taken out first, so that the fitted delay is the pure one.
// Covariance: sandwich over blocks of neighbouring lines (grey_problem.h).
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/grey_box_model.h"
#include "identification/motion_fit.h"
#include "identification/response_bands.h"
#include "machine/machine.h"
#include "math/estimate.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

inline constexpr double most_misfit = 1.6;

struct GreyFit {
  bool done = false;
  std::string reason = "no frequency response was measured";
  dynamics::Plant plant;                   // mean-scale newtons, carriage where it stood
  std::vector<math::Estimate> parameters;  // in SI, by GreyUnknown; from_data says whether the response tells it
  bool bends = false;
  bool drives_seen = false;  // the drives' own resonances lie among the lines; else their numbers are no answer
  std::vector<double> hz;    // lines used
  std::vector<Sides> measured, modelled;
  std::vector<ResponseSpread> sides_sd, mean_skew_sd;  // how sure `modelled` is, by the parameters' covariance
  double left_above_hz = 0;  // lines above are left out, since no plant of this form follows them; 0: none
  double misfit = 0;    // median of |G_model - G|/sigma, 1 = as allowed; friction may spoil some lines of a good fit
  size_t held_out = 0;  // lines that thinning left out of the fit
  double held_out_misfit = 0;  // misfit on those
  // Whiteness: real part of the correlation of a line's (G_model - G)/sigma with the next line's, pooled over
  // entries, and what white residuals stay within in 95 of 100 fits. A lumped model that lacks something misses
  // neighbours alike.
  double residual_correlation = 0, white_within = 1;
  double within = 0;            // root mean square of |G_model - G|/|G| over entries and lines
  ResponseKnowledge knowledge;  // for the motion fit
  Eigen::MatrixXd covariance;  // of all parameters jointly, in the fit's own space (grey_box_model.h, grey_parameter)
};

// `carriage_y_m`, `payload_kg`: of the recordings that the response comes from.
GreyFit fit_grey_box(const signal::Response& response, const MotionFit& motion, const machine::Machine& machine,
                     double carriage_y_m, double payload_kg);

// A plant from the motion fit alone: rigid drives, its lag as pure delay. For when no response was measured.
dynamics::Plant rigid_plant(const MotionFit& motion, const machine::Machine& machine);

}  // namespace evenbeam::identification
