#pragma once
// Station `causes`: why do the sides fight? The fight of every closed-loop capture is split into parts
// (fight_budget.h) and the differences between the sides that the fits have found are held against criteria
// (docs/causes.md), told in the order of their odds (odds.h). Many of the known difficulties have no criterion here,
// so silence is no proof of health. `done`: stations that have answered; those of their findings that name a cause
// stand here too. Keys: docs/formats.md.
#include <vector>

#include "base/figure.h"
#include "identification/identify.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

base::StationOutcome causes_station(const std::vector<recording::Recording>& recordings,
                                    const machine::Machine& machine, const identification::Identified& identified,
                                    const std::vector<base::StationResult>& done = {});

}  // namespace evenbeam::diagnosis
