#pragma once
// Does the record still hold? The journal's chain, the inputs of its last evaluation, and result.json, hashed anew.
#include <string>
#include <vector>

#include "base/files.h"
#include "journal/journal.h"
#include "workflow/job.h"

namespace evenbeam::workflow {

// What differs, in words; empty where all holds. Compares the files with the last evaluation recorded.
std::vector<std::string> verify(const base::Disk& disk, const Places& places,
                                const std::vector<journal::Entry>& entries);

}  // namespace evenbeam::workflow
