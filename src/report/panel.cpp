#include "report/panel.h"

#include <algorithm>
#include <cmath>

#include "report/text.h"

namespace evenbeam::report {
namespace {

double at_x(const PanelFrame& f, double shown) { return place(f.x, shown / f.x.factor); }
double at_y(const PanelFrame& f, double shown) { return place(f.y, shown / f.y.factor); }

void draw_grid(Svg& svg, const PanelFrame& f) {
  for (const Tick& tick : f.y_ticks.ticks) {
    const double y = at_y(f, tick.at);
    if (tick.label.empty()) continue;
    line(svg, {f.plot.x0, y}, {f.plot.x1, y}, {faint, 0.7});
    letters(svg, {f.plot.x0 - 6, y + 3.7}, tick.label, {muted, label_size, Anchor::end});
  }
  for (const Tick& tick : f.x_ticks.ticks) {
    const double x = at_x(f, tick.at);
    if (f.x.logarithmic && !tick.label.empty()) line(svg, {x, f.plot.y0}, {x, f.plot.y1}, {faint, 0.7});
    line(svg, {x, f.plot.y1}, {x, f.plot.y1 + (tick.label.empty() ? 2.5 : 4)}, {muted, 0.8});
  }
  if (!f.y.logarithmic && f.y.lo < 0 && f.y.hi > 0) {
    const double zero = at_y(f, 0);
    line(svg, {f.plot.x0, zero}, {f.plot.x1, zero}, {muted, 0.7});
  }
  line(svg, {f.plot.x0, f.plot.y1}, {f.plot.x1, f.plot.y1}, {muted, 0.8});
}

// Labels of the x ticks, left out where two would touch.
void draw_x_labels(Svg& svg, const PanelFrame& f) {
  double taken_to = -1e9;
  for (const Tick& tick : f.x_ticks.ticks) {
    const double half = text_width(tick.label, label_size) / 2, x = at_x(f, tick.at);
    if (tick.label.empty() || x - half < taken_to + 4) continue;
    letters(svg, {x, f.plot.y1 + 16}, tick.label, {muted, label_size, Anchor::middle});
    taken_to = x + half;
  }
}

double held(double value, double a, double b) { return std::clamp(value, std::min(a, b), std::max(a, b)); }

void draw_interval(Svg& svg, const base::Line& l, const Look& look, const PanelFrame& f) {
  if (l.lower.size() != l.x.size() || l.upper.size() != l.x.size()) return;
  const bool forecast = l.role == base::Role::forecast;
  for (const auto& piece : decimate_band(l.x, l.lower, l.upper, f.x, f.y)) {
    const auto y = [&](double raw) { return held(raw, f.plot.y0, f.plot.y1); };
    PathData outline;
    if (piece.size() == 1) {  // an interval at one place: a whisker
      outline.move_to({piece[0].x, y(piece[0].lower)});
      outline.line_to({piece[0].x, y(piece[0].upper)});
      stroke(svg, outline.text(), {look.pen.colour, 1.2, "", 0.6});
      continue;
    }
    outline.move_to({piece[0].x, y(piece[0].upper)});
    for (size_t i = 1; i < piece.size(); ++i) outline.line_to({piece[i].x, y(piece[i].upper)});
    for (size_t i = piece.size(); i-- > 0;) outline.line_to({piece[i].x, y(piece[i].lower)});
    outline.close();
    fill(svg, outline.text(), forecast ? forecast_colour : look.pen.colour, forecast ? 0.30 : 0.16);
  }
}

// Intervals of single marks: one whisker a mark.
void draw_whiskers(Svg& svg, const base::Line& l, const Look& look, const PanelFrame& f) {
  if (l.lower.size() != l.x.size() || l.upper.size() != l.x.size()) return;
  constexpr size_t most = 400;  // more whiskers than columns say nothing
  const size_t stride = l.x.size() / most + 1;
  PathData path;
  for (size_t i = 0; i < l.x.size(); i += stride) {
    const double x = place(f.x, l.x[i]), low = place(f.y, l.lower[i]), high = place(f.y, l.upper[i]);
    if (!std::isfinite(x) || !std::isfinite(low) || !std::isfinite(high)) continue;
    path.move_to({x, held(low, f.plot.y0, f.plot.y1)});
    path.line_to({x, held(high, f.plot.y0, f.plot.y1)});
  }
  stroke(svg, path.text(), {look.pen.colour, 1.0, "", 0.6});
}

void draw_pieces(Svg& svg, const DrawnLine& d) {
  PathData path;
  std::string dots;
  for (const Piece& piece : d.pieces) {
    if (piece.size() == 1) {
      add_mark(dots, Mark::dot, piece[0]);
      continue;
    }
    path.move_to(piece[0]);
    for (size_t i = 1; i < piece.size(); ++i) {
      if (d.line->stroke == base::Stroke::steps) path.line_to({piece[i].x, piece[i - 1].y});
      path.line_to(piece[i]);
    }
  }
  stroke(svg, path.text(), d.look.pen);
  stroke(svg, dots, {d.look.pen.colour, d.look.pen.width + 0.8});
}

void draw_marks(Svg& svg, const DrawnLine& d) {
  std::string path;
  for (const Piece& piece : d.pieces)
    for (const Point& p : piece) add_mark(path, d.look.mark, p);
  stroke(svg, path, {d.look.pen.colour, d.look.mark == Mark::dot ? 4.0 : 1.2, "", d.look.pen.opacity});
}

std::vector<DrawnLine> prepared(const base::Panel& panel, const PanelFrame& f) {
  std::vector<DrawnLine> out;
  const std::vector<Look> look = looks(panel);
  for (size_t i = 0; i < panel.lines.size(); ++i) {
    const base::Line& l = panel.lines[i];
    DrawnLine drawn{&l, look[i], {}};
    if (l.stroke == base::Stroke::points) {
      drawn.pieces.push_back(decimate_points(l.x, l.y, f.x, f.y));
      if (drawn.pieces[0].empty()) drawn.pieces.clear();
    } else {
      drawn.pieces = decimate_line(l.x, l.y, f.x, f.y);
    }
    out.push_back(std::move(drawn));
  }
  return out;
}

// Points along every drawn segment, at most six units apart.
std::vector<Point> ink_of(const std::vector<DrawnLine>& lines) {
  std::vector<Point> out;
  for (const DrawnLine& d : lines) {
    for (const Piece& piece : d.pieces) {
      for (size_t i = 0; i < piece.size(); ++i) {
        out.push_back(piece[i]);
        if (i + 1 == piece.size() || d.line->stroke == base::Stroke::points) continue;
        const Point a = piece[i], b = piece[i + 1];
        const int parts = static_cast<int>(std::hypot(b.x - a.x, b.y - a.y) / 6);
        for (int k = 1; k < parts; ++k) out.push_back({a.x + (b.x - a.x) * k / parts, a.y + (b.y - a.y) * k / parts});
      }
    }
  }
  return out;
}

}  // namespace

std::vector<std::string> draw_panel(Svg& svg, const base::Panel& panel, const PanelFrame& f) {
  std::vector<std::string> notes;
  draw_limits(svg, panel, f);
  draw_grid(svg, f);
  if (f.x_labels) draw_x_labels(svg, f);
  std::vector<DrawnLine> lines = prepared(panel, f);
  // Forecasts lie below what was measured.
  std::vector<const DrawnLine*> order;
  for (const DrawnLine& d : lines)
    if (d.line->role == base::Role::forecast) order.push_back(&d);
  for (const DrawnLine& d : lines)
    if (d.line->role != base::Role::forecast) order.push_back(&d);
  for (const DrawnLine* d : order) {
    const bool points = d->line->stroke == base::Stroke::points;
    points ? draw_whiskers(svg, *d->line, d->look, f) : draw_interval(svg, *d->line, d->look, f);
  }
  for (const DrawnLine* d : order)
    d->line->stroke == base::Stroke::points ? draw_marks(svg, *d) : draw_pieces(svg, *d);
  PlacedInk covered{{}, ink_of(lines)};
  label_limits(svg, panel, f, covered, notes);
  label_gaps(svg, lines, f, covered);
  label_lines(svg, lines, f, covered);
  if (std::all_of(lines.begin(), lines.end(), [](const DrawnLine& d) { return d.pieces.empty(); }))
    letters(svg, {(f.plot.x0 + f.plot.x1) / 2, (f.plot.y0 + f.plot.y1) / 2}, "nothing was recorded here",
            {muted, label_size, Anchor::middle, false, true});
  return notes;
}

}  // namespace evenbeam::report
