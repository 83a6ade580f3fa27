#pragma once
// The virtual gantry with the carriage travelling along the bridge within a run (docs/equations.md, eq. 8).
//   exact discretisations at `nodes` places of the carriage, interpolated in y; the carriage's own motion acts as
//   held forces: m_c (2 y' theta' + y'' theta) on the mean, -2 m_c y y' theta' - m_c h y'' on yaw
// Assumes what eq. 8 assumes; these forces act on the bridge as a rigid body (their part in bending is left out), and
// a bending beam's x_A - x_B is taken for yaw. Interpolation errs by (node distance/span)^2/8 of the change along y.
#include <vector>

#include "simulation/gantry.h"

namespace evenbeam::simulation {

struct CarriageGrid {
  std::vector<GantryModel> models;  // same substeps in all
  double low_y_m = 0, step_y_m = 0;
};
// Throws base::InputError as prepare does, or where the range is empty.
CarriageGrid prepare_moving(const Gantry& gantry, double period_s, double low_y_m, double high_y_m, int nodes = 65);

// Motion of the carriage at the start of the period, its acceleration held over it.
struct CarriageMotion {
  double y_m = 0, y_m_per_s = 0, y_m_per_s2 = 0;
};
// One servo period. The carriage must stay on the grid (base::Bug otherwise).
void advance(const CarriageGrid& grid, GantryState& state, const Commands& commands, const CarriageMotion& carriage);

}  // namespace evenbeam::simulation
