#pragma once
// What the page is told, as JSON: the state of the job, one trace, one forecast. Figures go as finished SVG; the page
// computes nothing of the machine.
#include <string>

#include "base/json.h"
#include "server/live_job.h"
#include "workflow/try_settings.h"

namespace evenbeam::server {

base::Json job_json(const Snapshot& snapshot, const std::string& doing);

// Lowest and highest of every channel in `columns` slices of [from_s, to_s]: nothing that stuck out is lost.
// Channels: skew and the skew error, positions, forces, whichever the recording has. InputError where there is no
// such recording.
base::Json trace_json(const workflow::Evaluation& evaluation, const std::string& recording, double from_s,
                      double to_s, int columns);

base::Json forecast_json(const workflow::TriedSettings& tried);

}  // namespace evenbeam::server
