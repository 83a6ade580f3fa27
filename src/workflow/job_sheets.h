#pragma once
// The sheets of a job that name further files: squareness.toml and ready.toml, read with what they name.
// `seen` is told of each named file and its bytes.
#include <functional>
#include <string>

#include "base/files.h"
#include "machine/machine.h"
#include "readiness/ready_file.h"
#include "squareness/squareness_file.h"
#include "workflow/job.h"

namespace evenbeam::workflow {

using SeenFile = std::function<void(const std::string& file, const std::string& bytes)>;

squareness::Sheet squareness_sheet(const base::Disk& disk, const Places& places, const machine::Machine& machine,
                                   const std::string& text, const SeenFile& seen = {});
readiness::Sheet ready_sheet(const base::Disk& disk, const Places& places, const machine::Machine& machine,
                             const std::string& text, const SeenFile& seen = {});

}  // namespace evenbeam::workflow
