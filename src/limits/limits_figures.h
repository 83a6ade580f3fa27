#pragma once
// Figures of station `limits`: the push window, and the ladder of limits.
#include "base/figure.h"
#include "limits/limits_station.h"

namespace evenbeam::limits {

base::Figure push_figure(const SafePush& push, const machine::Machine& machine);
base::Figure ladder_figure(const Allowable& allowed);

}  // namespace evenbeam::limits
