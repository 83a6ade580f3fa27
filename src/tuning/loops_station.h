#pragma once
// Station `loops`: share, feed-forward, gains and filters in commanded newtons, with the promised peak sensitivity
// over carriage and payload, and the skew to expect on the person's own moves. Keys: docs/formats.md, "values of
// loops".
#include "base/figure.h"
#include "tuning/loops_study.h"
#include "tuning/move_forecast.h"
#include "tuning/next_capture.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

struct LoopsOutcome {
  base::StationOutcome outcome;
  Proposal proposal;
  double certified_part = -1;                // of the fit's intervals; 0 = the fitted plant, -1 = nothing is proved
  std::vector<MoveForecast> proposed_loops;  // the same moves under the settings proposed, for trips
  std::vector<MoveForecast> own_loops;       // recordings under the loops they were made with, for prove
};

LoopsOutcome loops_station(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                           const identification::Identified& identified, const CaptureLimits& limits = {});

}  // namespace evenbeam::tuning
