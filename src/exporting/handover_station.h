#pragma once
// Station `handover`: what the next person needs. Nothing new is computed: the settings in all forms, what to keep a
// copy of, what spare parts must match, the numbers of the healthy machine, and what to redo after which repair.
// Keys: docs/formats.md, "values of handover".
#include <optional>

#include "base/figure.h"
#include "machine/machine.h"
#include "machine/settings.h"

namespace evenbeam::exporting {

base::StationOutcome handover_station(const machine::Machine& machine, const std::vector<base::StationResult>& done,
                                      const std::optional<machine::Settings>& settings);

}  // namespace evenbeam::exporting
