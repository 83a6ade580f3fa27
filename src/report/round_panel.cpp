#include "report/round_panel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::report {
namespace {

constexpr double side = 330, margin = 20, inner_part = 0.45;  // drawing units; of the outer radius
constexpr double caption_row = 22, below = 14;

struct Round {
  Point centre;
  double inner = 0, outer = 0;     // radii on paper of lowest and highest
  double lowest = 0, highest = 0;  // shown units
  double radius_at(double shown) const { return inner + (shown - lowest) / (highest - lowest) * (outer - inner); }
  Point at(double angle_rad, double shown) const {
    const double r = radius_at(shown);
    return {centre.x + r * std::cos(angle_rad), centre.y - r * std::sin(angle_rad)};
  }
};

void draw_ring(Svg& svg, const Round& round, double shown, const Pen& pen) {
  constexpr int parts = 180;
  PathData path;
  for (int i = 0; i < parts; ++i) {
    const Point p = round.at(2 * std::numbers::pi * i / parts, shown);
    i == 0 ? path.move_to(p) : path.line_to(p);
  }
  path.close();
  stroke(svg, path.text(), pen);
}

void draw_rings(Svg& svg, const Round& round, const Ticks& ticks) {
  for (int quarter = 0; quarter < 4; ++quarter) {
    const double angle = quarter * std::numbers::pi / 2;
    line(svg, round.at(angle, round.lowest), round.at(angle, round.highest), {faint, 0.7});
  }
  for (const Tick& tick : ticks.ticks)
    if (!tick.label.empty()) draw_ring(svg, round, tick.at, {faint, 0.7});
  if (round.lowest < 0 && round.highest > 0) draw_ring(svg, round, 0, {muted, 1.2});
}

// Beside the middle ray of the second quarter; over the lines, on a rim of paper.
void label_rings(Svg& svg, const Round& round, const Ticks& ticks) {
  const double ray = 0.75 * std::numbers::pi;
  for (const Tick& tick : ticks.ticks) {
    if (tick.label.empty()) continue;
    const Point p = round.at(ray, tick.at);
    letters(svg, {p.x, p.y + 3.7}, tick.label, {muted, label_size, Anchor::middle, false, true});
  }
}

void label_directions(Svg& svg, const Round& round) {
  const double r = round.outer + 5;
  const Point c = round.centre;
  letters(svg, {c.x + r, c.y + 4}, "+x", {muted, label_size});
  letters(svg, {c.x, c.y - r}, "+y", {muted, label_size, Anchor::middle});
  letters(svg, {c.x - r, c.y + 4}, "-x", {muted, label_size, Anchor::end});
  letters(svg, {c.x, c.y + r + 9}, "-y", {muted, label_size, Anchor::middle});
}

void draw_line(Svg& svg, const Round& round, const base::Line& l, const Look& look, double factor) {
  PathData path;
  bool down = false;
  for (size_t i = 0; i < l.x.size(); ++i) {
    if (!std::isfinite(l.x[i]) || !std::isfinite(l.y[i])) {
      down = false;
      continue;
    }
    const Point p = round.at(l.x[i], l.y[i] * factor);
    down ? path.line_to(p) : path.move_to(p);
    down = true;
  }
  stroke(svg, path.text(), look.pen);
}

// Where the line stands nearest to an angle.
Point nearest(const Round& round, const base::Line& l, double angle_rad, double factor) {
  Point best = round.centre;
  double gap = 1e9;
  for (size_t i = 0; i < l.x.size(); ++i) {
    const double off = std::abs(std::remainder(l.x[i] - angle_rad, 2 * std::numbers::pi));
    if (!std::isfinite(l.y[i]) || !(off < gap)) continue;
    gap = off;
    best = round.at(l.x[i], l.y[i] * factor);
  }
  return best;
}

// Each label to the right, a leader from the line to it.
void label_round_lines(Svg& svg, const Round& round, const base::Panel& panel, const std::vector<Look>& look,
                       const PanelFrame& f) {
  const double x = round.centre.x + round.outer + 34;
  for (size_t i = 0; i < panel.lines.size(); ++i) {
    const base::Line& l = panel.lines[i];
    if (l.label.empty() || l.x.empty()) continue;
    const double angle =
        (40 - 80 * double(i) / std::max<double>(1, double(panel.lines.size()) - 1)) * std::numbers::pi / 180;
    const Point p = nearest(round, l, angle, f.y.factor);
    const double y = round.centre.y - (round.outer + 8) * std::sin(angle);
    line(svg, p, {x - 26, y}, {muted, 0.7});
    line(svg, {x - 26, y}, {x - 4, y}, look[i].pen);
    letters(svg, {x, y + 3.7}, l.label, {ink, label_size});
  }
}

}  // namespace

double draw_round_panel(Svg& svg, const base::Panel& panel, const PanelFrame& f, double lowest, double highest,
                        double top) {
  Round round;
  round.centre = {(f.plot.x0 + f.plot.x1) / 2, top + caption_row + margin + side / 2};
  round.outer = side / 2, round.inner = inner_part * side / 2;
  round.lowest = lowest, round.highest = highest;
  const std::vector<Look> look = looks(panel);
  draw_rings(svg, round, f.y_ticks);
  for (size_t i = 0; i < panel.lines.size(); ++i) draw_line(svg, round, panel.lines[i], look[i], f.y_unit.factor);
  label_rings(svg, round, f.y_ticks);
  label_directions(svg, round);
  label_round_lines(svg, round, panel, look, f);
  return top + caption_row + 2 * margin + side + below;
}

}  // namespace evenbeam::report
