#pragma once
// The homing method of CiA 402 (object 6098h) that does on one drive what the plan asks of its side. From memory:
// 3-6 home switch and index, 19-22 the same without index, 33/34 next index towards -/+, 37 the present position
// (35 in older drives), negative numbers the maker's own. Methods of a single drive never know the other side: while
// both are tied by one command the controller moves, latches both marks itself and then sets the position on each.
#include "homing/search_plan.h"
#include "homing/search_recipe.h"

namespace evenbeam::homing {

DriveMethod drive_method(const SearchProblem& problem, const SearchPlan& plan);

}  // namespace evenbeam::homing
