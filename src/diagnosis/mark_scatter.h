#pragma once
// Do the marks scatter from search to search by more than the searches' own uncertainty? With b_i the marks'
// difference of search i at the stress-free attitude (station marks), u_i its standard uncertainty (stress-free skew
// of that switch-on, and two latches of a count each), weights 1/u_i^2 and their mean b:
//   chi^2 = sum (b_i - b)^2/u_i^2, beyond the 99.9 % point of n - 1 degrees where nothing else scatters.
// A flag, mark or latch that is loose by sd s is seen once s is over about u sqrt(quantile/(n - 1) - 1): that least
// scatter is told too, since what scatters less cannot be told.
#include <optional>
#include <vector>

#include "diagnosis/cause.h"

namespace evenbeam::diagnosis {

struct MarkScatter {
  int searches = 0;
  double sd_m = 0;   // of the searches
  double own_m = 0;  // root mean square of u
  double chi_square = 0, limit = 0;
  double least_m = 0;  // a scatter that large is seen as often as not
};

// Empty with fewer than three searches that count, or without a motion fit.
std::optional<MarkScatter> mark_scatter(const std::vector<base::StationResult>& done,
                                        const std::vector<recording::Recording>& recordings,
                                        const identification::MotionFit& fit);
std::vector<Cause> marks_scatter(const std::optional<MarkScatter>& scatter);

}  // namespace evenbeam::diagnosis
