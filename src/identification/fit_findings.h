#pragma once
// What station `fit` says of its values: how well the law holds, force scale and balance, stress-free skew, response,
// and what the recordings leave untold.
#include "identification/fit_values.h"

namespace evenbeam::identification {

// Needs a motion fit that is done; `values` are those of fit_values().
std::vector<base::Finding> fit_findings(const Identified& identified, const FitValues& values);

}  // namespace evenbeam::identification
