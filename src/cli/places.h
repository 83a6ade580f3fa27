#pragma once
#include <string>
#include <vector>

#include "cli/commands.h"
#include "rehearsal/defects.h"
#include "workflow/job.h"

namespace evenbeam::cli {

// The folders that the options of a command name. InputError where the job folder is not there.
workflow::Places places_of(const JobOptions& options);
// Files of `--with`, in their order.
std::vector<rehearsal::Defects> defects_of(const std::vector<std::string>& files);

}  // namespace evenbeam::cli
