#pragma once
// Station `square`: how far the bridge stands off the right angle to its rails, which move of which side puts it
// right, how that changes along x and with temperature. Keys: docs/formats.md, "values of square".
#include "base/figure.h"
#include "machine/machine.h"
#include "squareness/combine.h"
#include "squareness/skew_map.h"
#include "squareness/squareness_file.h"

namespace evenbeam::squareness {

struct SquareInput {
  std::optional<double> allowable_skew_m;  // by limits
};

// Everything the sheet says, worked out once; findings, values and figures read from it.
struct Squareness {
  std::vector<Observation> observations;
  std::vector<CircleResult> circles;
  Combined combined;
  Correction correction;
  std::optional<base::Estimate> b_minus_a_square_m;  // of station marks; empty where the attitude is not stated
  std::optional<ThermalChange> thermal;              // at the far end of travel, else of what was measured
};
Squareness work_out(const Sheet& sheet, const machine::Machine& machine);

// An empty sheet is met with `not done` and how to measure.
base::StationOutcome square_station(const Sheet& sheet, const machine::Machine& machine, const SquareInput& input);

std::vector<base::Finding> square_findings(const Sheet& sheet, const Squareness& s, const SquareInput& input,
                                           double span_m);
std::vector<base::Figure> square_figures(const Sheet& sheet, const Squareness& s, const machine::Machine& machine);

}  // namespace evenbeam::squareness
