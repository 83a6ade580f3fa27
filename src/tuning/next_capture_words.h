#pragma once
// The next capture in sentences and values (docs/formats.md, "Values of loops").
#include "base/finding.h"
#include "tuning/next_capture.h"

namespace evenbeam::tuning {

// Attention where the doubt decides: the certificate's limit is passed by a plant that the fit allows, or the skew
// that the process takes is met by the forecast alone and not with the doubt. Empty where nothing is to be said.
std::optional<base::Finding> next_capture_finding(const CapturePlan& plan, const machine::Machine& machine,
                                                  std::optional<double> forecast_skew_m);
void put_next_capture(base::StationResult& result, const CapturePlan& plan, const machine::Machine& machine);

}  // namespace evenbeam::tuning
