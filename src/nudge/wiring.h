#pragma once
// What the pushes say about signs and wiring, from pushes of one side at a time.
//   sign of a side = sign(own mean displacement during the push) * sign(own commanded force)
// Every push of the side must agree. During a push the pushed end moves further than the far one: its own mobility is
// the larger as long as the ends carry drives; after it a bridge that is stiff in yaw has been dragged along as a
// whole, so both counts must have gone the same way. From that: which of output and feedback is reversed, whether the
// sides are crossed, whether one is dead, whether both count in the same direction. A bridge that is loose in yaw
// (pivots, no stiffness) may swing the far end back, so there the counting direction takes a hand test. A bridge
// stiff in yaw moves both ends nearly alike whoever pushes: there the small yaw of all pushes tells (push_yaw.h).
#include <optional>
#include <vector>

#include "base/finding.h"
#include "machine/machine.h"
#include "nudge/pushes.h"

namespace evenbeam::nudge {

// Both sides count in the same physical direction: seen in the dragging after pushes, or in a closed-loop travel.
struct CountDirections {
  std::optional<bool> same;
  int for_same = 0, for_opposite = 0;  // pushes
  const Push* example = nullptr;
  const recording::Recording* travel = nullptr;  // a recording in which the whole bridge travelled
};
CountDirections count_directions(const std::vector<Push>& pushes,
                                 const std::vector<recording::Recording>& recordings);

struct Wiring {
  std::optional<int> sign_a, sign_b;  // +1 or -1; absent where not told
  std::vector<base::Finding> findings;
};
Wiring judge_wiring(const std::vector<Push>& pushes, const CountDirections& directions,
                    const machine::Machine& machine);

// Evidence of a finding: the push's recording and span.
void cite(base::Finding& finding, const Push& push);

}  // namespace evenbeam::nudge
