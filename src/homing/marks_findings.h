#pragma once
// What the recorded searches say, as findings of station `marks`.
#include "base/finding.h"
#include "homing/marks.h"

namespace evenbeam::homing {

// Where the marks lie, or what is missing; bare differences; the skew the bridge was held at; every oddity.
std::vector<base::Finding> marks_findings(const Marks& marks, std::optional<double> allowable_skew_m);
std::string name_of(WhichSide side);  // "A", "B", "one side"

}  // namespace evenbeam::homing
