#pragma once
// Settling after each stop of a run. A stop is where the reference's speed falls below 3e-4 of its largest (its last
// digits are not motion) for at least 50 ms; watched until the reference moves again or the run ends.
//   settle = from the stop to the last instant at which |mean error| or |skew error| was outside the window
#include <limits>
#include <string>

#include "simulation/closed_loop.h"

namespace evenbeam::tuning {

struct Settling {
  int stops = 0;
  int not_settled = 0;                                          // still outside when watching ended
  double longest_s = std::numeric_limits<double>::quiet_NaN();  // NaN: no stop, or one did not settle
  double watched_s = 0;                                         // shortest time watched after a stop
};
// Why longest_s is unknown, in a sentence; empty where it is known.
std::string why_unknown(const Settling& settling, double window_m);
Settling settling(const simulation::RunSeries& series, double window_m);

}  // namespace evenbeam::tuning
