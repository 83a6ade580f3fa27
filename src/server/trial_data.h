#pragma once
// What the page is told of a trial on the virtual gantry, as JSON: forecasts, faults, sessions. Computes nothing.
#include "base/json.h"
#include "machine/machine.h"
#include "workflow/try_fault.h"
#include "workflow/try_operations.h"
#include "workflow/try_settings.h"

namespace evenbeam::server {

base::Json forecast_json(const workflow::TriedSettings& tried);
base::Json fault_json(const workflow::TriedFault& tried);
// Consequences in the person's units as words, besides the numbers in SI.
base::Json session_json(const workflow::SessionSeen& seen, const machine::Machine& machine);

}  // namespace evenbeam::server
