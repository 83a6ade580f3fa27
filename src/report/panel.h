#pragma once
// Draws one panel of a figure: grid, limits, bands, lines and marks, and every label at its line.
#include <string>
#include <vector>

#include "base/figure.h"
#include "report/decimate.h"
#include "report/look.h"
#include "report/shown.h"
#include "report/svg.h"
#include "report/ticks.h"

namespace evenbeam::report {

struct PanelFrame {
  Box plot;                // drawing units, y down
  double label_width = 0;  // room to the right of the plot
  Scale x, y;
  ShownUnit x_unit, y_unit;
  Ticks x_ticks, y_ticks;
  bool x_labels = true;  // false: the panel below carries them
};

// A line's label, broken to the room beside the plot.
inline constexpr double label_size = 11, label_line = 13, label_stub = 22, small_size = 10;
std::vector<std::string> broken_label(const base::Line& line, double width);

// Grows `svg`; gives what could not be drawn to scale, in words ("limit ...: from 0.300 mm, above this scale").
std::vector<std::string> draw_panel(Svg& svg, const base::Panel& panel, const PanelFrame& frame);

// Parts, in panel_bands.cpp and panel_labels.cpp.
struct PlacedInk {
  std::vector<Box> taken;     // labels already placed inside the plot
  std::vector<Point> points;  // of lines, dense enough to weigh what a label would cover
};
void draw_limits(Svg& svg, const base::Panel& panel, const PanelFrame& frame);
void label_limits(Svg& svg, const base::Panel& panel, const PanelFrame& frame, PlacedInk& covered,
                  std::vector<std::string>& notes);
struct DrawnLine {
  const base::Line* line = nullptr;
  Look look;
  std::vector<Piece> pieces;
};
void label_lines(Svg& svg, const std::vector<DrawnLine>& lines, const PanelFrame& frame, PlacedInk& covered);
void label_gaps(Svg& svg, const std::vector<DrawnLine>& lines, const PanelFrame& frame, PlacedInk& covered);

}  // namespace evenbeam::report
