#pragma once
// Troubles that no capture of forces and positions shows and that another station has found by what is stated or
// computed: a search that can fail, trips without a window, a fault reaction that comes late, an offset that guides
// do not take, loops with too little margin. They are told here so that who asks for the cause finds them, without
// odds: nothing says how often they are the cause of a fight. Table: told_elsewhere.cpp.
#include <vector>

#include "base/finding.h"

namespace evenbeam::diagnosis {

// One finding each, `elsewhere_<station>_<id>`, verdict `not done`: no capture settles it. What `done` does not hold
// is not told.
std::vector<base::Finding> told_elsewhere(const std::vector<base::StationResult>& done);

}  // namespace evenbeam::diagnosis
