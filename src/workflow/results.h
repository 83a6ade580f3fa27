#pragma once
// What a commission leaves in results/: result.json, settings.toml, report.html, report.pdf. All can be made again.
#include <string>

#include "base/files.h"
#include "workflow/commission.h"

namespace evenbeam::workflow {

// result.json and settings.toml; adds to done.files.
void write_results(base::Disk& disk, const Places& places, const std::string& result_text, Commissioned& done);
// report.html; adds to done.files and done.report.
void write_report(base::Disk& disk, const CommissionRequest& request, const std::string& evaluated_at,
                  const std::string& result_text, Commissioned& done);

}  // namespace evenbeam::workflow
