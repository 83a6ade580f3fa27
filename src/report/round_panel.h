#pragma once
// Draws a panel round a circle (base::Panel::round): how far a path lies outside or inside of the circle it should
// follow, magnified. The circle of deviation zero is drawn strong, others at the ticks faint; radii grow evenly with
// the deviation, so that equal distances on paper are equal deviations, but the shape is not to scale.
#include "report/panel.h"

namespace evenbeam::report {

// `frame` holds units, ticks and the room (plot.x0, plot.x1, label_width); deviations lie within lowest..highest
// (shown units). From `top` on; gives where the next panel may begin.
double draw_round_panel(Svg& svg, const base::Panel& panel, const PanelFrame& frame, double lowest, double highest,
                        double top);

}  // namespace evenbeam::report
