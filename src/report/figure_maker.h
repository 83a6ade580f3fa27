#pragma once
// Draws any base::Figure as one SVG, for report and page alike: stacked panels, shared x, units of the person, labels
// at the lines, limits as grey bands with their source, gaps where nothing was recorded. The same figure gives the
// same bytes. The size of the drawing does not grow with the recording (decimate.h).
#include <string>

#include "base/figure.h"
#include "report/shown.h"

namespace evenbeam::report {

struct DrawingStyle {
  PersonUnits units;
  double width = 680;     // drawing units; 680 across A4's text width gives lettering of 8 points
  std::string id_prefix;  // before the figure's id, where one page holds several evaluations
};

// What a panel's y axis is shown in: angles by the largest that its lines reach.
ShownUnit y_unit_of(const base::Panel& panel, const PersonUnits& units);

// An <svg> element. A figure without panels gives an empty string.
std::string figure_svg(const base::Figure& figure, const DrawingStyle& style);

}  // namespace evenbeam::report
