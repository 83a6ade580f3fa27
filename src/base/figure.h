#pragma once
// What is to be drawn, not how: plain data that a station hands out beside its findings. report/ draws it for report
// and page alike. Numbers in SI; the drawing converts to the person's units. NaN is drawn as missing.
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "base/finding.h"

namespace evenbeam::base {

enum class Role { side_a, side_b, mean, skew, forecast, measured, other };
enum class Stroke { line, points, steps };

struct Line {
  Role role = Role::other;  // fixes colour and dash
  Stroke stroke = Stroke::line;
  std::string label;  // written at the line itself
  std::vector<double> x, y;
  std::vector<double> lower, upper;  // empty, or a band around y of the same size (95 %, or measured spread)
};

// A grey region: a limit or a window, its source named. Infinite ends reach the edge of the panel.
struct Band {
  bool along_x = false;  // false: from..to are y values, true: x values
  double from = -std::numeric_limits<double>::infinity();
  double to = std::numeric_limits<double>::infinity();
  std::string label;  // "guide limit (static rating, f_s 2)"
};

struct Axis {
  std::string label;  // "skew error", "time"
  std::string unit;   // SI symbol, "" for none
  bool logarithmic = false;
};

struct Panel {
  Axis x, y;
  std::vector<Line> lines;
  std::vector<Band> bands;
  // Drawn round a circle, as machines' paths are: x is an angle (rad, from +x towards +y), y how far outwards the
  // line lies from the circle, magnified as the room allows. Lines alone: no bands, no intervals.
  bool round = false;
};

// The bridge from above instead of panels: how it stands off square, and how far A is to be moved.
struct BridgePose {
  double span_m = 0;               // > 0
  std::optional<double> travel_m;  // length of the rails
  double skew_m = 0;               // x_A - x_B off square
  double move_a_m = 0;             // towards +x; what puts it square
  double move_half_width_m = 0;    // 95 %
};

struct Figure {
  std::string id;                    // unique in the evaluation, snake_case: "prove_skew_06"
  std::string title;                 // the answer the figure gives, in words
  std::string caption;               // what is shown, from which recording, what is not known
  std::vector<Panel> panels;         // stacked, sharing x where the labels are equal
  std::optional<BridgePose> bridge;  // drawn in place of panels
};

// What a station function returns.
struct StationOutcome {
  StationResult result;
  std::vector<Figure> figures;
};

}  // namespace evenbeam::base
