#pragma once
// What gravity asks of each side on an inclined axis, and whether the brakes hold it.
//
// tilt > 0: the +x end of the rails is the higher one; gravity then pulls the bridge towards -x with W = M g
// sin(tilt) at its centre of mass y_G = S/M. At rest F_A + F_B = W, and the yaw balance L d + y_G W = 0
// (docs/notation.md: d = (F_A - F_B)/2 has the moment L d; a force -W along x at y has +y W) gives
//   F_A = W (1/2 - y_G/L),   F_B = W (1/2 + y_G/L):
// the side that the carriage is near carries more. Guides take none of it along x; friction helps and is not counted.
// Motors reflected to x are turned, not lifted: they do not count in M here, except linear motors', which ride along.
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::readiness {

inline constexpr double standard_gravity_m_per_s2 = 9.80665;
// Hold over load that a brake must keep: 1.5 (common practice, no source; brakes wear, oil gets in).
inline constexpr double brake_margin_wanted = 1.5;

struct LiftedMass {
  double mass_kg = 0, moment_kg_m = 0;  // M, S = M y_G
};
// By the papers; `missing` gets the names of masses not known, counted as nothing.
LiftedMass lifted_mass(const machine::Machine& machine, double carriage_y_m, double payload_kg,
                       std::vector<std::string>& missing);

struct SideForces {
  double a_n = 0, b_n = 0;  // what holds the bridge, along +x
};
SideForces gravity_forces(const LiftedMass& mass, double span_m, double tilt_rad);

// The largest share of each side over the carriage's travel and both payloads, and of both together; sizes, >= 0.
struct GravityLoad {
  double a_n = 0, b_n = 0, both_n = 0;
  std::vector<std::string> missing;
};
GravityLoad gravity_load(const machine::Machine& machine, double tilt_rad);

double hold_margin(double hold_n, double load_n);  // hold over load, load > 0

}  // namespace evenbeam::readiness
