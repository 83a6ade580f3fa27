#pragma once
// How long one side may push alone: from the instant in which a drive has given up until the other must be off too.
// Side A off, side B at force F: d = F/2 in size, and with everything rigid and the guides not counted (which is the
// dangerous side) the skew grows by
//   s'' = L^2 d / (J - S^2/M) = L^2 F / (2 J_c),   s = s'' t^2/2,   t = sqrt(2 s_allowed / s'').
// J_c: yaw inertia about the centre of mass, by the papers, carriage and payload where J_c is smallest of what was
// tried: the middle and both ends of its travel, lightest payload.
#include <optional>

#include "machine/machine.h"

namespace evenbeam::readiness {

// nullopt where a mass of the bridge or of the drives is unknown.
std::optional<double> smallest_yaw_inertia_kg_m2(const machine::Machine& machine);
double time_to_skew_s(double force_n, double span_m, double yaw_inertia_kg_m2, double skew_m);

}  // namespace evenbeam::readiness
