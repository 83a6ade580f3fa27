#pragma once
// A figure's own numbers, for looking closer on the page: axes, lines and limits in the person's units, as the report
// draws them. Nothing is computed but the unit's factor; what is not finite is null.
#include <string>

#include "base/json.h"
#include "workflow/evaluation.h"

namespace evenbeam::server {

// Panels with straight axes can be looked at closer; circles and the bridge from above are drawn whole.
bool has_numbers(const base::Figure& figure);
// InputError where the job has no such figure.
base::Json figure_json(const workflow::Evaluation& evaluation, const std::string& id);

}  // namespace evenbeam::server
