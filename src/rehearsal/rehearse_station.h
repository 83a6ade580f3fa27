#pragma once
// Station `rehearse`: which commands go to which side, in what state, and what a command to one side alone would do
// to this machine. The table is rules.h, the numbers are runs of the virtual gantry (consequence.h). Keys:
// docs/formats.md, "values of rehearse".
#include <optional>
#include <vector>

#include "base/figure.h"
#include "rehearsal/consequence.h"
#include "rehearsal/rules.h"

namespace evenbeam::rehearsal {

struct RehearseInput {
  RuleTable table;
  std::optional<dynamics::Plant> plant;       // fitted, real newtons
  Known known;                                // how well
  std::optional<machine::Settings> settings;  // proposed; tied moves run under them, else under soft loops
  std::optional<double> allowable_skew_m;     // from `limits`
  std::optional<double> allowable_yaw_moment_n_m;
};
base::StationOutcome rehearse_station(const machine::Machine& machine, const RehearseInput& input);

// The kinds that one-sided commands have, each once with its spread, in the order of the kinds. On two threads.
std::vector<Consequence> all_consequences(const VirtualMachine& machine, const Amounts& amounts);

// Whether a consequence may go beyond a limit, at the upper end of its spread; nullopt where no limit is known.
std::optional<bool> beyond(const Consequence& c, std::optional<double> allowable_skew_m,
                           std::optional<double> allowable_yaw_moment_n_m);

}  // namespace evenbeam::rehearsal
