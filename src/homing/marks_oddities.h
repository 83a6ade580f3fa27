#pragma once
// What is wrong with a search that disagrees with the others. The difference latch_A - latch_B less the power-up skew
// is the same in every run; a run that is off by
//   whole pitches          took another mark of the row,
//   the flag's width       took the flag's other edge,
//   less, in the direction in which that side came late: a late latch, off/speed late,
// and all runs together show a drift (a line over their order, t-test at 1 %), a delay that goes with the direction,
// and a mark near its switch's edge (slips that come and go on the same side). Which side: the one whose own latch is
// off from that side's other runs by what the other kind of fault would call for; unknown where the searches started
// too far apart to tell. Where only bare differences are known they differ by the power-up skews: slips can be told,
// and where an allowable skew bounds those, what differs by more than twice it (both runs within it) for another
// reason.
#include <vector>

#include "homing/marks.h"

namespace evenbeam::homing {

// Marks the runs to be left out and returns what was found. `pitch_m`, `flag_width_m`, `allowable_skew_m`: 0 where
// unknown.
std::vector<Oddity> find_oddities(std::vector<SearchRun>& runs, double pitch_m, double flag_width_m,
                                  double allowable_skew_m = 0);

}  // namespace evenbeam::homing
