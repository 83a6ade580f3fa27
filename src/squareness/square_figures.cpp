#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "squareness/square_station.h"

namespace evenbeam::squareness {
namespace {

using base::Figure;
using base::Line;
using base::Panel;
using base::Role;
using base::Stroke;

Figure pose(const Squareness& s, const machine::Machine& machine) {
  const double skew_m = machine.span_m * s.combined.value_rad;
  Figure figure{.id = "square_pose", .title = "How the bridge stands, and what puts it square"};
  figure.caption =
      "From above, to scale but for the skew. Dotted: square to the rails. The arrow says which way A is moved.";
  figure.bridge = base::BridgePose{.span_m = machine.span_m,
                                   .travel_m = machine.limits.travel_m,
                                   .skew_m = skew_m,
                                   .move_a_m = s.correction.move_a_m,
                                   .move_half_width_m = s.correction.half_width_m};
  return figure;
}

// Each measurement with its interval beside the one number.
Figure agreement(const Squareness& s) {
  Panel panel{.x = {"measurement number", ""}, .y = {"out of square", "rad"}};
  double number = 0;
  std::vector<std::string> methods;
  for (const Observation& o : s.observations) {
    if (methods.empty() || methods.back() != o.method) {
      methods.push_back(o.method);
      panel.lines.push_back({.role = Role::measured, .stroke = Stroke::points, .label = o.method});
    }
    Line& line = panel.lines.back();
    line.x.push_back(++number), line.y.push_back(o.value_rad);
    line.lower.push_back(o.value_rad - o.half_width_rad), line.upper.push_back(o.value_rad + o.half_width_rad);
  }
  panel.bands.push_back({.from = s.combined.value_rad - s.combined.half_width_rad,
                         .to = s.combined.value_rad + s.combined.half_width_rad,
                         .label = "95 % interval of all together"});
  return {.id = "square_methods",
          .title = "What each measurement says",
          .caption = "Out of square, positive with A ahead; bars are 95 % intervals of the budgets.",
          .panels = {panel}};
}

Figure map(const Squareness& s) {
  Panel panel{.x = {"x", "m"}, .y = {"skew off square", "m"}};
  Line line{.role = Role::skew, .label = "combined"};
  Line left{.role = Role::other, .label = "with one offset"};
  const double mean = -s.correction.move_a_m;
  for (const MapRow& row : s.correction.rows) {
    line.x.push_back(row.x_m), line.y.push_back(row.skew_m);
    line.lower.push_back(row.skew_m - row.half_width_m), line.upper.push_back(row.skew_m + row.half_width_m);
    left.x.push_back(row.x_m), left.y.push_back(row.skew_m - mean);
  }
  panel.lines = {line, left};
  return {.id = "square_map",
          .title = fmt::format("Along the rails up to {:.1f} um of skew remain with one offset",
                               s.correction.remains_after_offset_m * 1e6),
          .caption =
              "Span times out of square, 95 % band; straight between the places measured. The compensation "
              "table takes the lower line to zero.",
          .panels = {panel}};
}

// Radius about the common centre against the angle, both directions, less the mean radius.
Figure circle(const CircleRun& run, const CircleResult& result) {
  Panel panel{.x = {"angle from +x towards +y", "deg"}, .y = {"radius off its mean", "m"}};
  const auto add = [&](const std::vector<Point>& points, const FittedCircle& fit, Role role, const char* label) {
    if (points.empty()) return;
    Line line{.role = role, .label = label};
    const auto radii = radii_on_grid(points, fit.centre_x_m, fit.centre_y_m, 360);
    for (size_t i = 0; i < radii.size(); ++i)
      line.x.push_back(static_cast<double>(i) - 179.5), line.y.push_back(radii[i] - fit.radius_m);
    panel.lines.push_back(std::move(line));
  };
  add(run.anticlockwise, result.anticlockwise, Role::measured, "anticlockwise");
  add(run.clockwise, result.clockwise, Role::other, "clockwise");
  Line form{.role = Role::forecast, .label = "out of square alone"};
  for (int i = 0; i < 360; ++i) {
    const double angle = (i - 179.5) * std::numbers::pi / 180;
    form.x.push_back(i - 179.5);
    form.y.push_back(-result.observation.value_rad * run.radius_m / 2 * std::sin(2 * angle));
  }
  panel.lines.push_back(std::move(form));
  return {.id = "square_" + result.name,
          .title = fmt::format("{}: radius {:g} mm", result.name, run.radius_m * 1e3),
          .caption = "Radius about the least-squares circle of each direction, as measured.",
          .panels = {panel}};
}

}  // namespace

std::vector<Figure> square_figures(const Sheet& sheet, const Squareness& s, const machine::Machine& machine) {
  std::vector<Figure> out{pose(s, machine), agreement(s)};
  if (s.combined.along_x) out.push_back(map(s));
  for (size_t i = 0; i < s.circles.size(); ++i) out.push_back(circle(sheet.circles[i], s.circles[i]));
  return out;
}

}  // namespace evenbeam::squareness
