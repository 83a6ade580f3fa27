#pragma once
// How far a search must run so that both marks are always seen, for a machine whose sides follow one commanded move.
// On the way the reference passes A's mark at latch_A - s/2 and B's at latch_B + s/2, s the raw skew there, so that
// between them lie |D - (s - s_free)|, D = b - a at the stress-free attitude. Over a start skew within +-W of free:
//   over-travel beyond the first mark = |D| + W + uncertainty + travel during the latch delay
//   start before the first mark = W + run-up to search speed + uncertainty
// Interval bound over the stated range, not a sample. Assumes one mark a side inside the range; periodic marks need
// their pitch to exceed twice the over-travel, which is checked.
#include "homing/marks.h"

namespace evenbeam::homing {

struct SearchRange {
  bool known = false;
  double start_skew_m = 0;  // W
  std::string start_skew_source;
  double overtravel_m = 0, start_before_first_mark_m = 0;
  double success_margin_m = 0;  // of the recorded searches: least travel left after the second mark
  bool recorded_searches_enough = false;
};

SearchRange search_range(const Marks& marks, const std::vector<recording::Recording>& recordings,
                         const machine::Machine& machine);

}  // namespace evenbeam::homing
