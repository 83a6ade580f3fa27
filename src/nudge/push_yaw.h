#pragma once
// Which end is ahead while a push of one side moves both. Pushed alone with F at A, both ends going with the push:
//   J' s''/L^2 + K/L^2 (s - s_free) = F (1 - sigma) - (r_A - r_B)/2 - (1/2 - sigma)(r_A + r_B),   J' = J - S^2/M
// which from rest is above zero for every share 0 < sigma < 1 and F > r_A + r_B (the least that moves both): the
// pushed end is ahead, and a lightly damped or slow swing from rest under a constant force does not come back past
// where it began. So where every push of both sides shows the far end ahead, outputs or feedbacks are swapped,
// however stiff the bridge. Derived: docs/equations.md, "Pushes and yaw".
#include <optional>
#include <vector>

#include "base/finding.h"
#include "nudge/pushes.h"

namespace evenbeam::nudge {

// A stop finding `crossed`; nothing where pushes are too few, disagree, or no yaw rises out of noise and counts.
std::optional<base::Finding> crossed_by_yaw(const std::vector<Push>& pushes);

}  // namespace evenbeam::nudge
