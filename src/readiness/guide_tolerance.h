#pragma once
// How far two rails may be off parallel and off level before the guides pay for it.
//
// Parallelism. The rails' distance is off by e somewhere on the way, the bridge between them is rigid, the carriages
// of both rails are alike: each gives way by e/2, so a carriage of lateral stiffness k carries F = k e/2. A force of
// a tenth of the dynamic rating C leaves 10^3 times the reference life, 100,000 km, by L = 100 km (C/P)^3 [ISO
// 14728-1, from memory; the tenth is common practice, no source]:   e = 2 (C/10)/k. k from the yaw stiffness where it
// is stated: both rails' outer carriages at +-spacing/2 move sideways by theta spacing/2, so K_th = 4 k (spacing/2)^2
// = k spacing^2. Mountings in series make that k small and e large, so it counts only where it is the stiffer of the
// two. Else k = C0/120 um, the middle of preloaded ball carriages (common practice, no source: 90 to 160 um).
//
// Height. Rails at unequal height tilt the bridge about x by dh/L, and each carriage has to follow in roll. Makers
// give 2e-4 (heavy preload) to 4e-4 (light) for balls [from memory]; the strictest is taken: dh = 2e-4 L. Ends on
// pivots or flexures about z change neither. What the guide's maker states goes before all of this: `limit`.
#include <optional>

#include "machine/machine.h"

namespace evenbeam::readiness {

inline constexpr double deflection_at_static_rating_m = 120e-6;
inline constexpr double tilt_a_carriage_takes_rad = 2e-4;

struct ParallelTolerance {
  double error_m = 0;  // e, largest less smallest distance over the travel
  double stiffness_n_per_m = 0;
  bool from_yaw_stiffness = false;
};
// nullopt where C or C0 is unknown.
std::optional<ParallelTolerance> parallel_tolerance(const machine::Guides& guides);
double height_tolerance_m(double span_m);  // dh, over the travel

}  // namespace evenbeam::readiness
