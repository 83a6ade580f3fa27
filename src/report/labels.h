#pragma once
// Where labels go so that none covers another.
#include <string>
#include <vector>

#include "report/svg.h"

namespace evenbeam::report {

// Labels in one column beside a panel: each wants its centre at `wish` and has a height. Gives the centres, in the
// order of the input, moved as little as possible (least squares): clusters that would overlap are joined and
// centred on the mean of their members' wishes, then held inside top..bottom as far as they fit at all.
struct ColumnLabel {
  double wish = 0, height = 0;
};
std::vector<double> spread(const std::vector<ColumnLabel>& labels, double top, double bottom);

// The best of several places for a box: the first that covers no taken box and the least ink. -1 where every
// candidate overlaps a taken box.
int best_place(const std::vector<Box>& candidates, const std::vector<Box>& taken,
               const std::vector<Point>& ink_points);

}  // namespace evenbeam::report
