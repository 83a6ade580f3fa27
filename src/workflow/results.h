#pragma once
// What a commission leaves in results/: result.json, settings.toml, report.html, report.pdf. All can be made again.
#include <string>

#include "base/files.h"
#include "workflow/commission.h"

namespace evenbeam::workflow {

// Adds to done.files, done.report and done.remarks.
void write_results(base::Disk& disk, const CommissionRequest& request, const std::string& result_text,
                   Commissioned& done);

}  // namespace evenbeam::workflow
