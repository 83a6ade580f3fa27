#pragma once
// The worst a fault can do under one reaction: search over the instant, the side, carriage place and payload, which
// brake is late or which way a feedback slips. Looked at: every border of the reference's phases and between, at the
// coarse places; then, up to a hundred times, in the middle of the interval where the slopes seen so far leave most
// room for a larger peak; the best few peaks are narrowed (golden section), tried at all fine places and narrowed
// again. How far below a dense search that may end: checks/protection/brute_force_check.cpp.
#include <functional>
#include <vector>

#include "protection/fault_run.h"

namespace evenbeam::protection {

struct SearchRange {
  std::vector<OrdinaryMove> coarse, fine;  // places and payloads, coarse first looked at
  std::vector<OrdinaryMove> slower;        // places of `coarse` at lower speeds
};
struct SearchOptions {
  double latency_s = 0.01;
  TripLevels trip;
  FaultSizes sizes;
  bool refine = true;
};
struct Look {
  double at_s = 0, peak_skew_m = 0;
};
// One place, side and way, looked at over the instants of the move, in their order.
struct LookLine {
  const OrdinaryMove* place = nullptr;
  Scenario scenario;
  std::vector<Look> looks;
};
struct Worst {
  FaultKind fault = FaultKind::side_off;
  Reaction reaction = Reaction::off;
  double peak_skew_m = 0;
  Scenario scenario;                    // reaches it
  const OrdinaryMove* place = nullptr;  // inside the range searched
  bool seen = false;
  bool finished = true;
  int runs = 0;
  std::vector<LookLine> lines;  // the coarse look: what `refine` begins with
};
// Instants of the coarse search: borders of the phases and the middles between.
std::vector<double> instants(const OrdinaryMove& ordinary);
// Sides, late brakes and ways that a fault under a reaction can take; instant not set.
std::vector<Scenario> variants(FaultKind fault, Reaction reaction, const SearchOptions& options);
Worst worst_case(const SearchRange& range, FaultKind fault, Reaction reaction, const SearchOptions& options);
// The second half of a search whose coarse look is done: narrows, tries the fine places, narrows again.
void refine(const SearchRange& range, Worst& worst);

struct Pair {
  FaultKind fault = FaultKind::side_off;
  Reaction reaction = Reaction::off;
};
// Another reaction that does the very same to this fault, where there is one that comes sooner in the list: power
// that is gone leaves nothing to control, and where both drives are well nobody has to follow.
Reaction same_as(FaultKind fault, Reaction reaction);
// All pairs on `threads` threads, in the order given. `progress` is called with the part done (from one thread at a
// time); returning false cancels, then nothing is returned.
std::vector<Worst> worst_cases(const SearchRange& range, const std::vector<Pair>& pairs, const SearchOptions& options,
                               int threads = 1, const std::function<bool(double)>& progress = {});

}  // namespace evenbeam::protection
