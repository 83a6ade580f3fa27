#pragma once
// What commission and next print: a line a station, the next step, where the report is, one caution.
#include <string>

#include "cli/console.h"
#include "workflow/commission.h"

namespace evenbeam::cli {

void print_overview(const workflow::Commissioned& done, Console& console);
void print_files(const workflow::Commissioned& done, Console& console);  // notes, and where the report is
// Makes the PDF and says where it is, or why there is none. Last of a command: it takes a browser longer than all
// stations, and what they found is to be read meanwhile.
void print_pdf(const workflow::CommissionRequest& request, workflow::Commissioned& done, ProgressLine& progress,
               Console& console);
void print_next(const workflow::NextStep& next, Console& console);

// The exit code; the faults of the program that ended stations are told on err.
int ended_with(const workflow::Evaluation& evaluation, Console& console);

}  // namespace evenbeam::cli
