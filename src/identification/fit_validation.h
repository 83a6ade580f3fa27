#pragma once
// What station `fit` says of data that the fit has not seen, and of what its residuals still hold: each capture
// foretold by the others (leave_one_out.h), lines that thinning left out, whiteness over the lines (whiteness.h).
#include <vector>

#include "base/finding.h"
#include "identification/identify.h"
#include "identification/leave_one_out.h"

namespace evenbeam::identification {

// Above it a capture contradicts the others. Common practice, no source: of 466 captures of the random machines of
// seeds 1-40 (docs/fit-coverage.md) the worst lay at 3.7.
inline constexpr double most_times_expected = 4;
// Above it the residuals of neighbouring lines hold a part of the machine; common practice, no source.
inline constexpr double most_residual_correlation = 0.5;

void add_validation(base::StationResult& result, const Identified& id, const std::vector<HeldOutCapture>& captures);

}  // namespace evenbeam::identification
