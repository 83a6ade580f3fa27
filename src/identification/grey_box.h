#pragma once
// Grey-box fit: the plant of docs/equations.md to a measured 2x2 response, with the motion fit as what is already
// known.
//   minimise  sum over lines and entries |(G_model - G)/sigma|^2  (Huber beyond 3)  +  |(p - p_motion)/spread|^2
// sigma^2 = the line's own variance + (model allowance)^2: a lumped model is not exact, and without the allowance a
// few strong lines would decide alone. Starts on a grid of drive and bending frequencies, because the misfit has many
// local minima; the best few are carried to the end.
// The hold of a known servo period is taken out first, so that the fitted delay is the pure one.
// Covariance: inverse normal matrix times the reduced misfit where that exceeds one.
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/grey_box_model.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "math/estimate.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

struct GreyFit {
  bool done = false;
  std::string reason = "no frequency response was measured";
  dynamics::Plant plant;                   // mean-scale newtons, carriage where it stood
  std::vector<math::Estimate> parameters;  // in SI, by GreyUnknown; from_data says whether the response tells it
  bool bends = false;
  std::vector<double> hz;  // lines used
  std::vector<Sides> measured, modelled;
  double misfit = 0;  // root mean square of (G_model - G)/sigma; 1 = within the allowance
  double within = 0;  // root mean square of |G_model - G|/|G| over entries and lines
};

GreyFit fit_grey_box(const signal::Response& response, const MotionFit& motion, const machine::Machine& machine);

// A plant from the motion fit alone: rigid drives, its lag as pure delay. For when no response was measured.
dynamics::Plant rigid_plant(const MotionFit& motion, const machine::Machine& machine);

}  // namespace evenbeam::identification
