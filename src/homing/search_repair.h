#pragma once
// Why a plan is not promised, and the smallest change that repairs it, tried. Private to the planner.
#include "homing/search_plan.h"

namespace evenbeam::homing {

// Fills troubles, repairs, repairs_suffice of a plan whose way is chosen and does not hold.
void find_troubles(const SearchProblem& problem, SearchPlan& plan);

}  // namespace evenbeam::homing
