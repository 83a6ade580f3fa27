#pragma once
// Begins a job: the folder, recordings/ and a commented machine.toml that passes its own check,
// and a squareness.toml that says how to measure.
#include <string>
#include <vector>

#include "base/files.h"

namespace evenbeam::workflow {

// Paths written, machine.toml first. InputError where the folder already holds a job: nothing is overwritten.
std::vector<std::string> new_job(base::Disk& disk, const std::string& folder);

}  // namespace evenbeam::workflow
