#pragma once
// What the positioning tables and the searches' repeatability say within station `prove`: findings, values
// (docs/formats.md, "values of prove") and figures, added to what the moves gave.
#include <optional>
#include <vector>

#include "acceptance/positioning_file.h"
#include "base/figure.h"

namespace evenbeam::acceptance {

// Where both sides were read at the same stops, their mean (linear) and their difference (skew; yaw = skew/span) are
// tables of their own, run by run. Empty where the sides do not match in targets and runs.
std::optional<std::vector<PositioningTable>> mean_and_skew(const std::vector<PositioningTable>& tables);

void add_positioning(const std::vector<PositioningTable>& tables, std::optional<double> span_m,
                     base::StationOutcome& out);

// b - a of every search of the recordings, the skew taken out (station marks).
void add_homing_repeatability(const std::vector<double>& b_minus_a_m, base::StationOutcome& out);

}  // namespace evenbeam::acceptance
