#pragma once
#include "cli/commands.h"
#include "workflow/job.h"

namespace evenbeam::cli {

// The folders that the options of a command name. InputError where the job folder is not there.
workflow::Places places_of(const JobOptions& options);

}  // namespace evenbeam::cli
