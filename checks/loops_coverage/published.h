#pragma once
// Published reductions of skew beside ours on a machine whose every number is known. Prints a table; 0.
namespace evenbeam::checks {
int published();
}  // namespace evenbeam::checks
