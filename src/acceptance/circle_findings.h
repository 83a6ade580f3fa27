#pragma once
// What the recorded circles say within station `prove` (measures: circle_move.h): findings, values (docs/formats.md,
// "values of prove") and figures, added to what the moves gave. Against limits.circular_goal: kept or broken only
// beyond what the counts leave open.
#include <vector>

#include "base/figure.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::acceptance {

// Of all recordings of kind `circle`. Where there is none: nothing, but for a goal that then stands open.
void add_circles(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                 base::StationOutcome& out);

}  // namespace evenbeam::acceptance
