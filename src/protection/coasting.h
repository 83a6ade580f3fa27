#pragma once
// How far a bridge without power can still skew: an upper bound from its state alone, so that a run may end.
// Private to this room; derived here.
//
// Compare with the run that coasts evenly: mean speed V, skew sigma_0(V) at which both ends slow down alike,
//   a_A V' = -r_A - k sigma_0,  a_B V' = -r_B + k sigma_0,  a_A = W_AA + W_AB,  a_B = W_AB + W_BB,  r = friction at
//   V,
// hence k sigma_0 = -r_A + a_A (r_A + r_B)/(a_A + a_B). When it comes to rest it stays in that skew if Coulomb
// friction holds k sigma_0 on both sides. Both are runs of the same bridge, so the energy of their difference only
// falls (docs/faults.md: friction is monotone), but for the outputs' dying tails and, where viscous friction makes
// sigma_0 drift, for what keeps the even run even: with s = d sigma_0/dV, u = (1, -1),
//   |skew| <= max |sigma_0| + (sqrt(2E) + lag sqrt(F' W^-1 F) + growth)/sqrt(k)
//   growth <= |s| (|V'| sqrt(u' W u) + c V sqrt(u' W^-1 u)),   V' the largest on the way, E with the even run's own
//   turning in it. Left out: the even run's last instants, where V < |s V'|/2 (a hundredth of the rest stands for
//   them).
#include "protection/event_model.h"

namespace evenbeam::protection {

// Both outputs off, nothing else to come. never_s (infinite) where the even run would not come to rest in its skew.
double largest_skew_to_come_m(const EventModel& model, const Mode& mode, const State& state);

}  // namespace evenbeam::protection
