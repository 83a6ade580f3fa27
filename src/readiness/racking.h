#pragma once
// How long one side may push alone: from the instant in which a drive has given up until the other must be off too.
// One side off, the other at force F: d = F/2 in size, f_m = F, and with everything rigid and the guides not counted
// (which is the dangerous side) the equations of docs/equations.md give
//   (J - S^2/M) theta'' = L F/2 + |S| F/M   where the pushing side is the farther from the centre of mass, so
//   s'' = L^2 F / (2 J_r),   J_r = (J - S^2/M)/(1 + 2 |S|/(M L)),   s = s'' t^2/2,   t = sqrt(2 s_allowed / s'').
// J_r by the papers, smallest of what was tried: carriage in the middle and at both ends of its travel, lightest and
// heaviest payload.
#include <optional>

#include "machine/machine.h"

namespace evenbeam::readiness {

// nullopt where a mass of the bridge or of the drives is unknown.
std::optional<double> smallest_racking_inertia_kg_m2(const machine::Machine& machine);
double time_to_skew_s(double force_n, double span_m, double racking_inertia_kg_m2, double skew_m);

}  // namespace evenbeam::readiness
