#pragma once
// The bridge from above, to scale: A below, B above, x to the right. The skew alone is exaggerated, by a factor that
// the drawing states. What is not known is drawn dashed and named as not known.
#include <optional>
#include <string>

#include "machine/machine.h"
#include "report/figure_maker.h"

namespace evenbeam::report {

struct BridgeView {
  double span_m = 0;                 // > 0
  std::optional<double> travel_m;    // rails run from x = 0 to here
  std::optional<double> bridge_x_m;  // mean position; mid-travel where unknown
  std::optional<double> skew_m;      // x_A - x_B
  std::optional<double> carriage_y_m, carriage_min_y_m, carriage_max_y_m;
  std::optional<double> mark_a_x_m, mark_b_x_m;  // reference marks along the rails
  bool third_rail = false, common_shaft = false;
  // How A is moved along x to stand square, and its 95 % half width: an arrow at A instead of carriage and marks.
  std::optional<double> move_a_m, move_half_width_m;
};

BridgeView bridge_view(const machine::Machine& machine);
BridgeView bridge_view(const base::BridgePose& pose);
std::string bridge_svg(const BridgeView& view, const DrawingStyle& style);

}  // namespace evenbeam::report
