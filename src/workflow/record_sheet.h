#pragma once
// What the report is made of, gathered from an evaluation: the machine in words, files, overrides, the settings
// sheet.
#include <string>

#include "report/report.h"
#include "workflow/commission.h"

namespace evenbeam::workflow {

report::ReportInput record_sheet(const Commissioned& done, const std::string& program,
                                 const std::string& evaluated_at, const std::string& result_text);
// The settings in other forms, for the appendix.
std::vector<report::SheetTable> settings_sheets(const Evaluation& evaluation);
// The settings proposed, in the form mean and skew; no rows where there are none.
std::vector<report::SettingsRow> settings_rows(const Evaluation& evaluation);

}  // namespace evenbeam::workflow
