#pragma once
// What commission and next print: a line a station, the next step, where the report is, one caution.
#include <string>

#include "cli/console.h"
#include "workflow/commission.h"

namespace evenbeam::cli {

void print_overview(const workflow::Commissioned& done, Console& console);
void print_files(const workflow::Commissioned& done, Console& console);  // notes, and where the report is
void print_next(const workflow::NextStep& next, Console& console);

}  // namespace evenbeam::cli
