#pragma once
// Everything the recordings tell of the machine, once: motion fit, measured response, grey-box fit, force scale, and
// the plant in real newtons that tuning, trips and forecasts use.
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/force_scale.h"
#include "identification/grey_box.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "recording/recording.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

struct Identified {
  MotionFit motion;
  signal::Response response;                     // of the multisine recordings, commanded newtons
  std::vector<std::string> response_recordings;  // whose response it is
  double response_carriage_y_m = 0;
  GreyFit grey;
  ForceScale scale;
  bool plant_known = false;
  std::string plant_reason;  // why not, where a fit was made and its numbers make no machine
  dynamics::Plant plant;     // real newtons; force_scale: real over nameplate
};

Identified identify(const std::vector<recording::Recording>& recordings, const machine::Machine& machine);

// Two measurements of one thing: weighted mean, widened where they disagree.
math::Estimate together(const math::Estimate& a, const math::Estimate& b);
// Turns a mean-scale quantity that grows with force (mass, stiffness, friction) into real newtons.
math::Estimate in_real_newtons(const math::Estimate& quantity, const ForceScale& scale);

}  // namespace evenbeam::identification
