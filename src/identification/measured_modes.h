#pragma once
// Modes with their uncertainty: frequency, damping and shape read from the measured response about where the fitted
// plant has them (signal/local_modes.h); the plant names them. To each deviation of the reading the difference
// between reading and fit is added, so that the interval reaches from one to the other: two ways to the same number
// that lack different things. Coverage: docs/fit-coverage.md. At other carriage places nothing was read: the plant's
// frequency there, by the ratio of reading to fit where it was measured, without an interval.
#include <string>
#include <vector>

#include "dynamics/modes.h"
#include "identification/grey_box.h"
#include "math/estimate.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

struct MeasuredMode {
  dynamics::Mode model;  // of the fitted plant, carriage where the response was measured
  bool read = false;
  std::string why_not;
  math::Estimate hz, damping;  // where read
  // Movement of what the feedback sees, the larger one 1; in phase with it, and radius about it at 95 %.
  double shape_a = 0, shape_b = 0, shape_half_width = 0;
};
std::vector<MeasuredMode> measured_modes(const GreyFit& grey, const signal::Response* response);

struct ModePlace {
  double carriage_y_m = 0;
  bool measured = false;
  std::vector<double> hz;  // in the order of the modes given; NaN where the plant has lost one
};
// Over the carriage's range, followed by their shapes from place to place.
std::vector<ModePlace> modes_over_carriage(const GreyFit& grey, const std::vector<MeasuredMode>& modes,
                                           double from_y_m, double to_y_m, int places = 9);

}  // namespace evenbeam::identification
