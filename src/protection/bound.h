#pragma once
// How much worse than the search's find it can be between the instants looked at (docs/faults.md).
// With both outputs off the difference of two runs loses energy, E = dv' W dv/2 + k dsigma^2/2, whatever Coulomb
// friction does (it is monotone), so their peaks after the reaction differ by at most sqrt(2 E/k) of their states at
// the reaction: proven. Taken, not proven: that between two neighbours the state at the reaction strays no farther
// from the nearer one than its own straight distance times a factor, which is measured at each halving (at
// least 1.1). Checked against a dense search by a simulator of its own (checks/protection). Where a fault is not seen
// at all (at rest) the border is found to 1 ms and no closer. With loops left running there is no such law; then
// `bounded` is false.
#include "protection/search.h"

namespace evenbeam::protection {

struct Bound {
  bool bounded = false;
  double peak_skew_m = 0;  // nothing between the instants is larger, over the places looked at, all sides and ways
  double widest_s = 0;     // widest interval left
  int runs = 0;
};
// Halves the interval with the largest bound until that is within `slack` of the largest peak or `most_runs` are
// spent.
Bound bound_between(const std::vector<const OrdinaryMove*>& places, const Worst& worst, const SearchOptions& options,
                    double slack, int most_runs);

}  // namespace evenbeam::protection
