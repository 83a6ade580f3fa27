#pragma once
// What temperature does to squareness. Each side's scale grows from the place where it is fixed; at one reading the
// bridge's end then stands further along by
//   dx = expansion * warming * (x - fixed),   so that   e changes by (dx_A - dx_B) / span.
// Growth of the bridge itself moves its ends across the rails, not along them: nothing to first order.
#include <optional>

#include "math/gum.h"

namespace evenbeam::squareness {

struct Thermal {
  double expansion_a_per_k = 0, expansion_b_per_k = 0, expansion_error_per_k = 0;  // half width
  bool one_material = false;                                     // the coefficient's error is the same on both sides
  double warming_a_k = 0, warming_b_k = 0, warming_error_k = 0;  // from measuring to work; half width, each side
  double fixed_x_m = 0;                                          // where both scales are fixed
};
struct ThermalChange {
  double x_m = 0;
  double change_rad = 0, standard_uncertainty_rad = 0, half_width_rad = 0;
};
// Standard uncertainty with the second-order terms (a product of two uncertain numbers may stand near zero).
ThermalChange thermal_change(const Thermal& thermal, double span_m, double x_m);

}  // namespace evenbeam::squareness
