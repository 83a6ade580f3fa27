#pragma once
// Station `ready`: is it fit to be moved? The check sheet held against what was measured, both drives' parameters
// against each other, gravity against the brakes. A job without ready.toml is `not done`, whatever its captures say.
// Keys: docs/formats.md, "values of ready".
#include "base/figure.h"
#include "machine/machine.h"
#include "readiness/judged.h"
#include "readiness/ready_file.h"
#include "recording/recording.h"

namespace evenbeam::readiness {

base::StationOutcome ready_station(const Sheet& sheet, const machine::Machine& machine,
                                   const std::vector<recording::Recording>& recordings);

Reached reached_by(const std::vector<recording::Recording>& recordings);

void add_number(base::StationResult& result, const std::string& key, double value, const std::string& unit);

// Its parts. What A and B show against each other; `sheet` holds both values, else nothing is said.
std::vector<base::Finding> pair_findings(const Sheet& sheet, const machine::Machine& machine);
// Gravity on an inclined axis, the brakes' margin. Values: brake_margin_a, brake_margin_b, gravity_a_n, gravity_b_n.
void add_gravity(const Sheet& sheet, const machine::Machine& machine, base::StationResult& result);
void add_parameters(const Sheet& sheet, base::StationResult& result);

}  // namespace evenbeam::readiness
