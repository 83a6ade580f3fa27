#pragma once
// What an axis spans, in the person's unit: all data with a little air; a limit's edge where it is near enough not to
// flatten the data (else the panel says in words where the limit is); a band's edges as far as one span of the data.
#include <limits>
#include <vector>

#include "base/figure.h"

namespace evenbeam::report {

struct Range {
  double lo = std::numeric_limits<double>::infinity();
  double hi = -std::numeric_limits<double>::infinity();
};
inline bool known(const Range& r) { return r.lo <= r.hi; }
void include(Range& range, double value, bool logarithmic);  // what cannot be shown is left out

// Of data only; `factor` from SI to shown.
Range x_data(const base::Panel& panel, double factor);
// Of data, bands around lines and near limits, padded. {0, 1} ({1, 10} on a log axis) where nothing can be shown.
Range y_range(const base::Panel& panel, double factor);
// The same for x, over panels that share it.
Range x_range(const std::vector<const base::Panel*>& panels, double factor);

}  // namespace evenbeam::report
