#pragma once
// Station `ready`: is it fit to be moved? The check sheet held against what was measured, both drives' parameters
// against each other, gravity against the brakes. A job without ready.toml is `not done`, whatever its captures say.
// Keys: docs/formats.md, "values of ready".
#include "base/figure.h"
#include "machine/machine.h"
#include "readiness/judged.h"
#include "readiness/known.h"
#include "readiness/ready_file.h"
#include "recording/recording.h"

namespace evenbeam::readiness {

base::StationOutcome ready_station(const Sheet& sheet, const machine::Machine& machine,
                                   const std::vector<recording::Recording>& recordings, const Known& known = {});

Reached reached_by(const std::vector<recording::Recording>& recordings);

void add_number(base::StationResult& result, const std::string& key, double value, const std::string& unit);

// Its parts. What A and B show against each other; `sheet` holds both values, else nothing is said.
std::vector<base::Finding> pair_findings(const Sheet& sheet, const machine::Machine& machine);
// Gravity on an inclined axis, the brakes' margin. Values: brake_margin_a, brake_margin_b, gravity_a_n, gravity_b_n.
void add_gravity(const Sheet& sheet, const machine::Machine& machine, base::StationResult& result);
void add_parameters(const Sheet& sheet, base::StationResult& result);
// Captures of servo-off and servo-on: what let go, what jumped. Returns the largest skew that let go. Value:
// enabling.
std::optional<double> add_enable_captures(const std::vector<recording::Recording>& recordings,
                                          const machine::Machine& machine, const Known& known,
                                          base::StationResult& result);
// Brakes and force by the delays stated; `released_m`: what captures showed to let go. Value: enable_order.
void add_enable_order(const Sheet& sheet, const machine::Machine& machine,
                      const std::vector<recording::Recording>& recordings, const Known& known,
                      std::optional<double> released_m, base::StationResult& result);

// Captures of each side alone against each other. Value: sides_alone.
void add_sides_alone(const Sheet& sheet, const machine::Machine& machine,
                     const std::vector<recording::Recording>& recordings, const Known& known,
                     base::StationResult& result);
// Growth by heat against the guides' tolerance. Values: growth_...
void add_growth(const Sheet& sheet, const machine::Machine& machine, const Known& known, base::StationResult& result);

}  // namespace evenbeam::readiness
