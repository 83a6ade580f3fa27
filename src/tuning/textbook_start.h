#pragma once
// The textbook settings from which the gains are searched: the least stretch that holds everywhere. Internal to
// tuning.
// Where a resonance and not the lags sets what holds (a fast controller on soft drives), even the most stretched loop
// may be too fast for it. Then T is taken 2 to 32 times as long as the lags, and the velocity filter follows or goes
// to a third of that, where it takes the resonance down: of those that hold, the one with the lowest cost of the
// search (tuning/gain_search.h). A choice of this program, no source; what the search makes of them differs little.
#include <optional>

#include "tuning/proposal.h"
#include "tuning/tuning_basis.h"

namespace evenbeam::tuning {

struct Stretches {
  double mean = 0, skew = 0;  // 0: none
};
struct TextbookStart {
  Stretches stretches;  // none: nothing holds, and lags and filter are those of the basis
  double lag_s = 0, filter_hz = 0;
  double lag_factor = 1;
};
TextbookStart textbook_start(const Basis& basis, const machine::Settings& settings, double promised);

// Each coordinate alone with the other very soft, then both together, drawn back in step until the promise holds.
Stretches textbook_stretches(const Basis& basis, const machine::Settings& settings, double promised);

// Softer loops have less to lose to lag, but an integral too slow for its gain costs too: all of them are looked at,
// with the longer lags too.
std::optional<Nearest> nearest_to(const Basis& basis, const machine::Settings& settings);

}  // namespace evenbeam::tuning
