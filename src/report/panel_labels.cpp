// Labels of one panel: line labels in the column beside the plot, limits and gaps inside it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/labels.h"
#include "report/panel.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

struct Extent {
  double from, to;          // shown numbers, from < to
  double lo, hi;            // of the axis
  bool hidden, covers_all;  // nothing of it inside the axis; everything
};

Extent extent_of(const base::Band& band, const PanelFrame& f) {
  const Scale& scale = band.along_x ? f.x : f.y;
  const double from = std::min(band.from, band.to) * scale.factor, to = std::max(band.from, band.to) * scale.factor;
  return {from, to, scale.lo, scale.hi, to <= scale.lo || from >= scale.hi, from <= scale.lo && to >= scale.hi};
}

// The band's rectangle inside the plot.
Box box_of(const base::Band& band, const PanelFrame& f) {
  const Extent e = extent_of(band, f);
  const Scale& scale = band.along_x ? f.x : f.y;
  const double one = place(scale, std::max(e.from, e.lo) / scale.factor);
  const double two = place(scale, std::min(e.to, e.hi) / scale.factor);
  if (band.along_x) return {std::min(one, two), f.plot.y0, std::max(one, two), f.plot.y1};
  return {f.plot.x0, std::min(one, two), f.plot.x1, std::max(one, two)};
}

std::string in_unit(double shown, const ShownUnit& unit) { return true_minus(with_unit(trimmed(shown, 3), unit)); }

// Where a limit lies that the axis does not reach: what to say after "beyond this scale" or "wider than this scale".
struct Elsewhere {
  std::string label, how, where;
};

Elsewhere elsewhere(const base::Band& band, const PanelFrame& f) {
  const Extent e = extent_of(band, f);
  const ShownUnit& unit = band.along_x ? f.x_unit : f.y_unit;
  const std::string label = band.label.empty() ? "limit" : band.label;
  const std::string both = in_unit(e.from, unit) + " to " + in_unit(e.to, unit);
  const bool finite = std::isfinite(e.from) && std::isfinite(e.to);
  if (e.covers_all) return {label, finite ? "wider than this scale" : "the whole of this scale", finite ? both : ""};
  if (finite) return {label, "beyond this scale", both};
  return {label, "beyond this scale",
          std::isfinite(e.from) ? "from " + in_unit(e.from, unit) + " up" : "below " + in_unit(e.to, unit)};
}

std::vector<std::string> sentences(const std::vector<Elsewhere>& list) {
  std::vector<Elsewhere> joined;  // the same limit on both sides is one sentence
  for (const Elsewhere& e : list) {
    const auto it = std::find_if(joined.begin(), joined.end(),
                                 [&](const Elsewhere& j) { return j.label == e.label && j.how == e.how; });
    if (it == joined.end())
      joined.push_back(e);
    else if (it->where != e.where && !e.where.empty())
      it->where += ", " + e.where;
  }
  std::vector<std::string> out;
  for (const Elsewhere& e : joined)
    out.push_back(fmt::format("{}: {}{}", e.label, e.how, e.where.empty() ? "" : " (" + e.where + ")"));
  return out;
}

// Places for a text block of w by h, first inside the band along its edges, then beside it; never across an edge.
std::vector<Box> places_for(const Box& band, const PanelFrame& f, double w, double h) {
  constexpr double gap = 3, aside = 5;
  std::vector<double> lefts = {band.x0 + aside, band.x1 - aside - w, (band.x0 + band.x1 - w) / 2};
  std::vector<double> tops = {band.y1 - gap - h, band.y0 + gap, (band.y0 + band.y1 - h) / 2};
  if (band.x1 - band.x0 < w + 2 * aside) lefts = {band.x1 + aside, band.x0 - aside - w};
  if (band.y1 - band.y0 < h + gap) tops = {band.y0 - gap - h, band.y1 + gap};
  std::vector<Box> out;
  for (const double at_top : tops)
    for (const double at_left : lefts) {
      const Box box{at_left, at_top, at_left + w, at_top + h};
      const bool inside = box.x0 >= f.plot.x0 && box.x1 <= f.plot.x1 && box.y0 >= f.plot.y0 && box.y1 <= f.plot.y1;
      if (inside) out.push_back(box);
    }
  return out;
}

void write_block(Svg& svg, const std::vector<std::string>& lines, const Box& box, double line_height) {
  double base = box.y0 + line_height - 3;
  for (const std::string& text : lines) {
    letters(svg, {box.x0, base}, text, {muted, small_size, Anchor::start, false, true});
    base += line_height;
  }
}

Point last_point(const DrawnLine& d) { return d.pieces.back().back(); }

void draw_label(Svg& svg, const DrawnLine& d, const PanelFrame& f, double centre) {
  const std::vector<std::string> lines = broken_label(*d.line, f.label_width - label_stub);
  const double stub0 = f.plot.x1 + 5, stub1 = f.plot.x1 + label_stub - 4;
  const double first = centre - label_line * static_cast<double>(lines.size()) / 2 + label_line / 2;
  if (!d.pieces.empty()) {
    const Point end = last_point(d);
    if (std::hypot(stub0 - end.x, first - end.y) > 7)
      line(svg, {std::min(end.x + 3, stub0), end.y}, {stub0, first}, {d.look.pen.colour, 0.6, "1 2.5", 0.7});
  }
  if (d.line->stroke == base::Stroke::points) {
    std::string mark;
    add_mark(mark, d.look.mark, {(stub0 + stub1) / 2 + 2, first});
    stroke(svg, mark, {d.look.pen.colour, d.look.mark == Mark::dot ? 4.0 : 1.2});
  } else {
    if (d.line->role == base::Role::forecast && !d.line->lower.empty())
      rectangle(svg, {stub0, first - 4, stub1, first + 4}, forecast_colour, 0.30);
    line(svg, {stub0, first}, {stub1, first}, d.look.pen);
  }
  for (size_t i = 0; i < lines.size(); ++i)
    letters(svg, {f.plot.x1 + label_stub, first + 3.7 + label_line * static_cast<double>(i)}, lines[i],
            {d.look.pen.colour, label_size});
}

}  // namespace

std::vector<std::string> broken_label(const base::Line& l, double width) {
  const bool none = std::none_of(l.y.begin(), l.y.end(), [](double y) { return std::isfinite(y); });
  return wrap(l.label + (none && !l.label.empty() ? " (missing)" : ""), width, label_size);
}

void draw_limits(Svg& svg, const base::Panel& panel, const PanelFrame& f) {
  for (const base::Band& band : panel.bands) {
    const Extent e = extent_of(band, f);
    if (e.hidden || e.covers_all) continue;
    const Box box = box_of(band, f);
    rectangle(svg, box, limit_grey, 0.20);
    const Pen edge{limit_grey, 0.9};
    if (band.along_x) {
      if (e.from > e.lo) line(svg, {box.x0, box.y0}, {box.x0, box.y1}, edge);
      if (e.to < e.hi) line(svg, {box.x1, box.y0}, {box.x1, box.y1}, edge);
    } else {
      if (e.to < e.hi) line(svg, {box.x0, box.y0}, {box.x1, box.y0}, edge);
      if (e.from > e.lo) line(svg, {box.x0, box.y1}, {box.x1, box.y1}, edge);
    }
  }
}

void label_limits(Svg& svg, const base::Panel& panel, const PanelFrame& f, PlacedInk& covered,
                  std::vector<std::string>& notes) {
  std::vector<Elsewhere> said;
  for (const base::Band& band : panel.bands) {
    const Extent e = extent_of(band, f);
    if (e.hidden || e.covers_all) {
      said.push_back(elsewhere(band, f));
      continue;
    }
    if (band.label.empty()) continue;
    constexpr double line_height = 12;
    const std::vector<std::string> lines = wrap(band.label, 0.55 * (f.plot.x1 - f.plot.x0), small_size);
    double width = 0;
    for (const std::string& text : lines) width = std::max(width, text_width(text, small_size));
    const std::vector<Box> candidates =
        places_for(box_of(band, f), f, width, line_height * static_cast<double>(lines.size()));
    const int best = best_place(candidates, covered.taken, covered.points);
    if (best < 0) {
      said.push_back({band.label, "the grey band without a name", ""});
      continue;
    }
    write_block(svg, lines, candidates[static_cast<size_t>(best)], line_height);
    covered.taken.push_back(candidates[static_cast<size_t>(best)]);
  }
  for (std::string& sentence : sentences(said)) notes.push_back(std::move(sentence));
}

void label_gaps(Svg& svg, const std::vector<DrawnLine>& lines, const PanelFrame& f, PlacedInk& covered) {
  const std::string word = "missing";
  const double width = text_width(word, small_size);
  for (const DrawnLine& d : lines) {
    if (d.line->stroke == base::Stroke::points) continue;
    for (size_t i = 1; i < d.pieces.size(); ++i) {
      const Point a = d.pieces[i - 1].back(), b = d.pieces[i].front();
      if (b.x - a.x < width + 8) continue;
      const double left = (a.x + b.x - width) / 2, middle = (a.y + b.y) / 2;
      std::vector<Box> candidates;
      for (const double top : {middle - 6, middle - 22, middle + 10, f.plot.y0 + 2, f.plot.y1 - 14})
        if (top >= f.plot.y0 && top + 12 <= f.plot.y1) candidates.push_back({left, top, left + width, top + 12});
      const int best = best_place(candidates, covered.taken, covered.points);
      if (best < 0) continue;
      const Box& box = candidates[static_cast<size_t>(best)];
      letters(svg, {box.x0, box.y0 + 9}, word, {d.look.pen.colour, small_size, Anchor::start, false, true});
      covered.taken.push_back(box);
    }
  }
}

namespace {

// Beside a line that ends well before the plot does: right of its end, above, below, left.
bool label_at_end(Svg& svg, const DrawnLine& d, const PanelFrame& f, PlacedInk& covered) {
  constexpr double early = 70;  // drawing units before the plot's edge from which a leader would lead too far
  if (d.pieces.empty() || last_point(d).x > f.plot.x1 - early) return false;
  const Point end = last_point(d);
  const double w = text_width(d.line->label, label_size), h = label_line;
  std::vector<Box> candidates;
  for (const auto& [x, y] :
       {Point{end.x + 7, end.y - h / 2}, Point{end.x + 7, end.y - h - 2}, Point{end.x + 7, end.y + 2},
        Point{end.x - w / 2, end.y - h - 6}, Point{end.x - w / 2, end.y + 6}})
    if (x >= f.plot.x0 && x + w <= f.plot.x1 && y >= f.plot.y0 && y + h <= f.plot.y1)
      candidates.push_back({x, y, x + w, y + h});
  const int best = best_place(candidates, covered.taken, covered.points);
  if (best < 0) return false;
  const Box& box = candidates[static_cast<size_t>(best)];
  letters(svg, {box.x0, box.y1 - 3}, d.line->label, {d.look.pen.colour, label_size, Anchor::start, false, true});
  covered.taken.push_back(box);
  return true;
}

}  // namespace

void label_lines(Svg& svg, const std::vector<DrawnLine>& lines, const PanelFrame& f, PlacedInk& covered) {
  std::vector<const DrawnLine*> labelled;
  std::vector<ColumnLabel> wishes;
  for (const DrawnLine& d : lines) {
    if (d.line->label.empty() || label_at_end(svg, d, f, covered)) continue;
    const size_t rows = broken_label(*d.line, f.label_width - label_stub).size();
    const double wish = d.pieces.empty() ? (f.plot.y0 + f.plot.y1) / 2 : last_point(d).y;
    labelled.push_back(&d);
    wishes.push_back({wish, label_line * static_cast<double>(rows) + 2});
  }
  const std::vector<double> centres = spread(wishes, f.plot.y0 - 2, f.plot.y1 + 2);
  for (size_t i = 0; i < labelled.size(); ++i) draw_label(svg, *labelled[i], f, centres[i]);
}

}  // namespace evenbeam::report
