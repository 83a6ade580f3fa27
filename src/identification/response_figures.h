#pragma once
// The measured response beside the fitted model, with 95 % intervals of both: size by sides, size and phase of the
// mean and the skew, which the loops see.
#include <vector>

#include "base/figure.h"
#include "identification/grey_box.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

// `response`: what `grey` was fitted to, for the measured intervals; nullptr: drawn without them.
std::vector<base::Figure> response_figures(const GreyFit& grey, const signal::Response* response);

}  // namespace evenbeam::identification
