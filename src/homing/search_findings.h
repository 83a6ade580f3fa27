#pragma once
// The planned search as findings: the recipe with its promise, or the start that fails and the smallest repair.
#include "base/finding.h"
#include "homing/search_plan.h"
#include "homing/search_request.h"

namespace evenbeam::homing {

// `seen`: the recorded searches, for the recording named as evidence; may be empty.
std::vector<base::Finding> search_findings(const SearchRequest& request, const SearchPlan& plan, const Marks& seen);

}  // namespace evenbeam::homing
