#pragma once
// Figures of station `prove`. Long records are thinned to the least and largest value of each slice, so no peak is
// lost.
#include <vector>

#include "acceptance/prove_station.h"
#include "base/figure.h"

namespace evenbeam::acceptance {

// At most 2 * slices points; every extreme of y is among them, in order of time.
void thin(const std::vector<double>& x, const std::vector<double>& y, std::size_t slices, base::Line& out);

base::Figure move_figure(const JudgedMove& move, const machine::Machine& machine, const ProveInput& input);
base::Figure comparison_figure(const std::vector<JudgedMove>& moves, const machine::Machine& machine);
base::Figure settling_figure(const std::vector<JudgedMove>& moves, const SettleWindow& window);

}  // namespace evenbeam::acceptance
