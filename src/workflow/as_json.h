#pragma once
// What a machine may read of the workflow's answers: one form for the command line and for the page.
#include "base/json.h"
#include "workflow/commission.h"

namespace evenbeam::workflow {

base::Json to_json(const NextStep& next);
base::Json to_json(const Commissioned& done);
base::Json overrides_json(const Evaluation& evaluation);  // those in force

}  // namespace evenbeam::workflow
