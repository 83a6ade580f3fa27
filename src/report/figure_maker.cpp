#include "report/figure_maker.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/bridge_drawing.h"
#include "report/panel.h"
#include "report/range.h"
#include "report/round_panel.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

constexpr double caption_row = 22, tick_row = 20, x_caption_row = 16, note_row = 13, panel_gap = 8;
constexpr double widest_label = 150;  // beside the plot, stub included

bool same_x(const base::Panel& a, const base::Panel& b) {
  return a.x.label == b.x.label && a.x.unit == b.x.unit && a.x.logarithmic == b.x.logarithmic;
}

// Panels from `first` on that stand on one x axis.
size_t group_end(const std::vector<base::Panel>& panels, size_t first) {
  size_t end = first + 1;
  while (end < panels.size() && same_x(panels[first], panels[end])) ++end;
  return end;
}

double panel_height(const base::Panel& panel, size_t panels, double label_width) {
  const double plain = panels == 1 ? 230 : panels == 2 ? 155 : 115;
  double needed = 0;
  for (const base::Line& line : panel.lines)
    if (!line.label.empty())
      needed += label_line * static_cast<double>(broken_label(line, label_width - label_stub).size()) + 2;
  return std::max(plain, needed);
}

double label_room(const std::vector<base::Panel>& panels) {
  double widest = 0;
  for (const base::Panel& panel : panels)
    for (const base::Line& line : panel.lines)
      for (const std::string& row : broken_label(line, widest_label - label_stub))
        widest = std::max(widest, text_width(row, label_size));
  return widest > 0 ? widest + label_stub + 2 : 14;
}

std::string axis_text(const base::Axis& axis, const ShownUnit& unit, int power) {
  std::string text = axis.label;
  std::string measure =
      power == 0 ? unit.symbol : "10" + superscript(power) + (unit.symbol.empty() ? "" : " " + unit.symbol);
  return measure.empty() ? text : text + ", " + measure;
}

// Everything of a panel that is known before it has a place.
struct Prepared {
  PanelFrame frame;
  Range x, y;
  bool last_of_group = true;
};

// A recording that ends one sample before the next tick gets that tick.
Range rounded_end(Range x, const Ticks& ticks) {
  if (ticks.ticks.size() < 2) return x;
  const double step = ticks.ticks[1].at - ticks.ticks[0].at, next = ticks.ticks.back().at + step;
  if (next - x.hi < 0.01 * (x.hi - x.lo)) x.hi = next;
  return x;
}

std::vector<Prepared> prepare(const base::Figure& figure, const DrawingStyle& style) {
  std::vector<Prepared> out(figure.panels.size());
  for (size_t first = 0; first < figure.panels.size();) {
    const size_t end = group_end(figure.panels, first);
    std::vector<const base::Panel*> group;
    for (size_t i = first; i < end; ++i) group.push_back(&figure.panels[i]);
    const ShownUnit x_unit = shown_unit(group[0]->x.unit, style.units);
    const Range x = x_range(group, x_unit.factor);
    for (size_t i = first; i < end; ++i) {
      const base::Panel& panel = figure.panels[i];
      Prepared& p = out[i];
      p.x = x, p.last_of_group = i + 1 == end;
      p.frame.x_unit = x_unit, p.frame.y_unit = y_unit_of(panel, style.units);
      p.y = y_range(panel, p.frame.y_unit.factor);
      if (!panel.x.logarithmic) p.x = rounded_end(x, linear_ticks(x.lo, x.hi, 8));
      p.frame.x_ticks = panel.x.logarithmic ? log_ticks(x.lo, x.hi, 7) : linear_ticks(p.x.lo, p.x.hi, 8);
      const int wanted = figure.panels.size() > 2 ? 4 : 5;
      p.frame.y_ticks =
          panel.y.logarithmic ? log_ticks(p.y.lo, p.y.hi, wanted) : linear_ticks(p.y.lo, p.y.hi, wanted);
      p.frame.x_labels = p.last_of_group;
    }
    first = end;
  }
  return out;
}

double tick_room(const std::vector<Prepared>& prepared) {
  double widest = 20;
  for (const Prepared& p : prepared)
    for (const Tick& tick : p.frame.y_ticks.ticks) widest = std::max(widest, text_width(tick.label, label_size));
  return widest + 10;
}

// In words what the panels show, for those who cannot see them.
std::string spoken(const base::Figure& figure, const std::vector<Prepared>& prepared) {
  std::string out = figure.caption;
  for (size_t i = 0; i < figure.panels.size(); ++i) {
    const base::Panel& panel = figure.panels[i];
    const Prepared& p = prepared[i];
    out += fmt::format("{}{} ({} to {}) against {} ({} to {}):", out.empty() ? "" : " ",
                       axis_text(panel.y, p.frame.y_unit, 0), significant(p.y.lo, 3), significant(p.y.hi, 3),
                       axis_text(panel.x, p.frame.x_unit, 0), significant(p.x.lo, 3), significant(p.x.hi, 3));
    for (const base::Line& line : panel.lines) out += " " + (line.label.empty() ? "a line" : line.label) + ";";
    for (const base::Band& band : panel.bands) out += " " + band.label + ";";
    out.back() = '.';
  }
  return out;
}

// Draws one panel from `top` on; gives where the next may begin.
double draw(Svg& svg, const base::Panel& panel, Prepared& p, double top, double height) {
  PanelFrame& f = p.frame;
  if (panel.round) {
    letters(svg, {0, top + 12}, axis_text(panel.y, f.y_unit, f.y_ticks.power), {ink, label_size});
    return draw_round_panel(svg, panel, f, p.y.lo, p.y.hi, top) + panel_gap;
  }
  f.plot.y0 = top + caption_row, f.plot.y1 = f.plot.y0 + height;
  f.x = {p.x.lo, p.x.hi, panel.x.logarithmic, f.plot.x0, f.plot.x1, f.x_unit.factor};
  f.y = {p.y.lo, p.y.hi, panel.y.logarithmic, f.plot.y1, f.plot.y0, f.y_unit.factor};
  letters(svg, {0, top + 12}, axis_text(panel.y, f.y_unit, f.y_ticks.power), {ink, label_size});
  const std::vector<std::string> notes = draw_panel(svg, panel, f);
  double y = f.plot.y1 + 6;
  if (p.last_of_group) {
    y += tick_row;
    letters(svg, {f.plot.x1, y + 6}, axis_text(panel.x, f.x_unit, f.x_ticks.power), {ink, label_size, Anchor::end});
    y += x_caption_row - 4;
  }
  if (!notes.empty()) y += 3;
  for (const std::string& note : notes)
    for (const std::string& row : wrap(note, f.plot.x1 + f.label_width - f.plot.x0, small_size)) {
      letters(svg, {f.plot.x0, y + 10}, row, {muted, small_size});
      y += note_row;
    }
  return y + panel_gap;
}

}  // namespace

ShownUnit y_unit_of(const base::Panel& panel, const PersonUnits& units) {
  if (panel.y.unit != "rad") return shown_unit(panel.y.unit, units);
  double largest = 0;
  for (const base::Line& line : panel.lines)
    for (const double y : line.y)
      if (std::isfinite(y)) largest = std::max(largest, std::abs(y));
  return shown_angle(largest, units);
}

std::string figure_svg(const base::Figure& figure, const DrawingStyle& style) {
  if (figure.bridge) return bridge_svg(bridge_view(*figure.bridge), style);
  if (figure.panels.empty()) return {};
  std::vector<Prepared> prepared = prepare(figure, style);
  const double right = label_room(figure.panels), left = tick_room(prepared);
  Svg svg;
  double y = 0;
  for (size_t i = 0; i < prepared.size(); ++i) {
    Prepared& p = prepared[i];
    p.frame.label_width = right;
    p.frame.plot.x0 = left, p.frame.plot.x1 = style.width - right;
    y = draw(svg, figure.panels[i], p, y, panel_height(figure.panels[i], prepared.size(), right));
  }
  return svg_document(svg, style.width, y, style.id_prefix + figure.id, figure.title, spoken(figure, prepared));
}

}  // namespace evenbeam::report
