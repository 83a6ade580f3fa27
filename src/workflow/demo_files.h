#pragma once
// The demo's job folder as it lies in the program (demo/job, embedded by cmake/embed.cmake).
#include <string>
#include <vector>

#include "base/embedded.h"
#include "base/files.h"

namespace evenbeam::workflow {

std::vector<base::EmbeddedFile> demo_files();

// Writes the demo's job to `folder`, over what an earlier demo left there. InputError where the folder holds another
// job: its machine.toml is not the demo's.
void write_demo(base::Disk& disk, const std::string& folder);

}  // namespace evenbeam::workflow
