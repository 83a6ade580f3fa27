#pragma once
// The captures that could be made next, each foreseen and held against the limits (next_capture.h).
#include <vector>

#include "tuning/explain.h"
#include "tuning/next_capture.h"

namespace evenbeam::tuning {

inline constexpr double kSkewUse = 0.5, kForceUse = 0.9;  // of what is allowed, of peak (common practice, no source)

std::vector<ProposedCapture> capture_candidates(const std::vector<recording::Recording>& recordings,
                                                const machine::Machine& machine,
                                                const identification::Identified& identified,
                                                const Proposal& proposal, const ForecastMove& move,
                                                const CaptureLimits& limits);

}  // namespace evenbeam::tuning
