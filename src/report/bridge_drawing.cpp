#include "report/bridge_drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "report/svg.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

constexpr double top = 34, rails_apart = 190, left = 74, right_room = 20, tail = 44;
constexpr double text_size = 11;
constexpr std::string_view unknown_dash = "5 4";

// Where things are, in drawing units.
struct Layout {
  double per_m = 1, length = 0;  // drawing units per metre; of the rails shown
  double y_a = 0, y_b = 0, x0 = 0, x1 = 0;
  bool broken = false;            // rails longer than shown, or of unknown length
  double bridge_x = 0, skew = 0;  // drawn
  double factor = 1;              // of the skew
};

// 1, 2 or 5 times a power of ten, not above `value`.
double round_down(double value) {
  const double decade = std::pow(10.0, std::floor(std::log10(value)));
  const double scaled = value / decade;
  return (scaled >= 5 ? 5 : scaled >= 2 ? 2 : 1) * decade;
}

Layout lay_out(const BridgeView& v, double width) {
  Layout l;
  l.y_b = top, l.y_a = top + rails_apart;
  const double room = width - left - right_room - tail;
  l.per_m = rails_apart / v.span_m;
  const double wanted = v.travel_m ? *v.travel_m * l.per_m : room;
  l.broken = !v.travel_m || wanted > room;
  l.length = std::min(wanted, room);
  l.x0 = left + tail / 2, l.x1 = l.x0 + std::max(l.length, 60.0);
  const double middle = (l.x0 + l.x1) / 2;
  const bool placed = v.bridge_x_m && !l.broken && *v.bridge_x_m >= 0 && *v.bridge_x_m <= *v.travel_m;
  l.bridge_x = placed ? l.x0 + *v.bridge_x_m * l.per_m : middle;
  if (v.skew_m && *v.skew_m != 0) {
    constexpr double wished = 30;  // drawing units that the eye sees at once
    l.factor = std::max(1.0, round_down(wished / (std::abs(*v.skew_m) * l.per_m)));
    l.skew = *v.skew_m * l.per_m * l.factor;
  }
  return l;
}

std::string shown(double value_si, const DrawingStyle& style) {
  const ShownUnit unit = shown_unit("m", style.units);
  return true_minus(with_unit(shown_number(value_si, unit), unit));
}

void draw_rail(Svg& svg, const Layout& l, double y, Colour colour, std::string_view name, std::string_view dash) {
  for (const double offset : {-2.5, 2.5}) line(svg, {l.x0, y + offset}, {l.x1, y + offset}, {muted, 0.8});
  if (l.broken)
    for (const double x : {l.x0, l.x1})
      stroke(svg, fmt::format("M{} {}l4 -5l-4 -4l4 -5", coordinate(x - 2), coordinate(y + 7)), {muted, 1});
  line(svg, {12, y}, {34, y}, {colour, 1.8, dash});
  letters(svg, {40, y + 4}, name, {colour, 13, Anchor::start, true});
}

// A point of the beam: y_part from -1/2 (A) to 1/2 (B).
Point on_beam(const Layout& l, double y_part) {
  return {l.bridge_x - y_part * l.skew, (l.y_a + l.y_b) / 2 - y_part * rails_apart};
}

void draw_bridge(Svg& svg, const BridgeView& v, const Layout& l) {
  const Point a = on_beam(l, -0.5), b = on_beam(l, 0.5);
  const std::string_view dash = v.skew_m ? "" : unknown_dash;
  PathData beam;
  beam.move_to({a.x - 9, a.y}), beam.line_to({a.x + 9, a.y}), beam.line_to({b.x + 9, b.y}),
      beam.line_to({b.x - 9, b.y});
  beam.close();
  fill(svg, beam.text(), paper, 1), fill(svg, beam.text(), faint, 0.55);
  stroke(svg, beam.text(), {ink, 1.1, dash});
  const double square_x = v.move_a_m ? b.x : l.bridge_x;  // where it stands square: beside B once A is moved
  if (v.skew_m && l.skew != 0) line(svg, {square_x, a.y - 12}, {square_x, b.y + 12}, {muted, 0.7, "2 3"});
  const auto end = [&](Point p, Colour colour, std::string_view end_dash) {
    const Box box{p.x - 17, p.y - 7, p.x + 17, p.y + 7};
    rectangle(svg, box, paper, 1);
    stroke(svg, fmt::format("M{} {}h34v14h-34z", coordinate(box.x0), coordinate(box.y0)), {colour, 1.8, end_dash});
  };
  end(a, side_a_colour, ""), end(b, side_b_colour, "6 4");
}

// The arrow at A, as long as the skew is drawn, and what to do in words.
void draw_move(Svg& svg, const BridgeView& v, const Layout& l, const DrawingStyle& style) {
  const Point a = on_beam(l, -0.5), b = on_beam(l, 0.5);
  const double move = *v.move_a_m, y = a.y + 20, tip = b.x, head = move < 0 ? 7 : -7;
  if (l.skew != 0) {
    line(svg, {a.x, y}, {tip, y}, {side_a_colour, 2});
    stroke(svg, fmt::format("M{} {}l{} -4m{} 4l{} 4", coordinate(tip), coordinate(y), head, -head, head),
           {side_a_colour, 2});
  }
  const ShownUnit unit = shown_unit("m", style.units);
  const double size = std::abs(move), half = v.move_half_width_m.value_or(0);
  std::string text = "move A " + with_unit(shown_number(size, unit, size - half, size + half), unit) + " towards ";
  text += move < 0 ? "\u2212x" : "+x";
  if (half > 0) text += fmt::format(" (\u00b1 {:.2g} {})", half * unit.factor, unit.symbol);
  letters(svg, {std::max(a.x, tip) + 10, y + 4}, text, {side_a_colour, 12, Anchor::start, true, true});
}

void draw_carriage(Svg& svg, const BridgeView& v, const Layout& l, const DrawingStyle& style) {
  const double part = v.carriage_y_m ? std::clamp(*v.carriage_y_m / v.span_m, -0.5, 0.5) : 0;
  const Point c = on_beam(l, part);
  rectangle(svg, {c.x - 16, c.y - 11, c.x + 16, c.y + 11}, paper, 1);
  stroke(svg, fmt::format("M{} {}h32v22h-32z", coordinate(c.x - 16), coordinate(c.y - 11)),
         {ink, 1.3, v.carriage_y_m ? "" : unknown_dash});
  const std::string text =
      v.carriage_y_m ? "carriage at y = " + shown(*v.carriage_y_m, style) : "carriage: place not known";
  letters(svg, {c.x + 22, c.y + 4}, text, {v.carriage_y_m ? ink : muted, text_size, Anchor::start, false, true});
  if (!v.carriage_min_y_m || !v.carriage_max_y_m) return;
  const Point low = on_beam(l, std::clamp(*v.carriage_min_y_m / v.span_m, -0.5, 0.5));
  const Point high = on_beam(l, std::clamp(*v.carriage_max_y_m / v.span_m, -0.5, 0.5));
  line(svg, {low.x - 22, low.y}, {high.x - 22, high.y}, {muted, 0.9});
  for (const Point p : {low, high}) line(svg, {p.x - 26, p.y}, {p.x - 18, p.y}, {muted, 0.9});
  // Low on its line: the middle belongs to the span.
  letters(svg, {high.x - 30, (3 * low.y + high.y) / 4 + 4}, "carriage travel",
          {muted, text_size, Anchor::end, false, true});
}

void draw_marks(Svg& svg, const BridgeView& v, const Layout& l, const DrawingStyle& style) {
  const auto mark = [&](std::optional<double> x_m, double y, double text_y, Colour colour, std::string_view name) {
    if (!x_m || l.broken || *x_m < 0 || *x_m > *v.travel_m) return false;
    const double x = l.x0 + *x_m * l.per_m;
    stroke(svg, fmt::format("M{} {}l5 5l-5 5l-5 -5z", coordinate(x), coordinate(y - 5)), {colour, 1.4});
    letters(svg, {x, text_y}, fmt::format("mark {} at {}", name, shown(*x_m, style)),
            {colour, text_size, Anchor::middle, false, true});
    return true;
  };
  mark(v.mark_a_x_m, l.y_a, l.y_a + 22, side_a_colour, "A");
  mark(v.mark_b_x_m, l.y_b, l.y_b - 14, side_b_colour, "B");
}

// Span on the left; x and travel below.
void draw_sizes(Svg& svg, const BridgeView& v, const Layout& l, const DrawingStyle& style) {
  const double x = 22, y = l.y_a + 44;
  line(svg, {x, l.y_b + 10}, {x, l.y_a - 10}, {muted, 0.8});
  for (const double end : {l.y_b + 10, l.y_a - 10}) line(svg, {x - 4, end}, {x + 4, end}, {muted, 0.8});
  letters(svg, {x + 7, (l.y_a + l.y_b) / 2 - 3}, "span", {muted, text_size, Anchor::start, false, true});
  letters(svg, {x + 7, (l.y_a + l.y_b) / 2 + 11}, shown(v.span_m, style),
          {ink, text_size, Anchor::start, false, true});
  line(svg, {l.x0, y}, {l.x1, y}, {muted, 0.8, v.travel_m ? "" : unknown_dash});
  stroke(svg, fmt::format("M{} {}l-7 -3.5m7 3.5l-7 3.5", coordinate(l.x1), coordinate(y)), {muted, 0.9});
  letters(svg, {l.x1 + 6, y + 4}, "x", {ink, text_size, Anchor::start, true});
  std::string text = v.travel_m ? "travel " + shown(*v.travel_m, style) : "travel not known, rails drawn open";
  if (v.travel_m && l.broken) text += ", rails drawn shortened";
  letters(svg, {l.x0, y + 16}, text, {v.travel_m ? ink : muted, text_size});
}

std::string remarks(const BridgeView& v, const Layout& l, const DrawingStyle& style) {
  std::string text;
  if (!v.skew_m)
    text = "skew not known, bridge drawn square and dashed";
  else if (*v.skew_m == 0)
    text = "skew 0";
  else
    text = fmt::format("skew {}: {} ahead, drawn {} times as large", shown(*v.skew_m, style),
                       *v.skew_m > 0 ? "A" : "B", fmt::format("{:.0f}", l.factor));
  if (v.move_a_m) return text + "; dotted: square to the rails, where it stands once A is moved";
  if (!v.bridge_x_m) text += "; drawn in the middle, its place along x not known";
  if (!v.mark_a_x_m || !v.mark_b_x_m) text += "; places of the marks not known";
  if (v.third_rail) text += "; third rail not drawn";
  if (v.common_shaft) text += "; common shaft not drawn";
  return text;
}

}  // namespace

BridgeView bridge_view(const machine::Machine& m) {
  BridgeView v;
  v.span_m = m.span_m, v.travel_m = m.limits.travel_m;
  v.carriage_y_m = m.carriage_y_m, v.carriage_min_y_m = m.carriage_min_y_m, v.carriage_max_y_m = m.carriage_max_y_m;
  v.third_rail = m.third_rail, v.common_shaft = m.common_shaft;
  return v;
}

BridgeView bridge_view(const base::BridgePose& pose) {
  BridgeView v;
  v.span_m = pose.span_m, v.travel_m = pose.travel_m, v.skew_m = pose.skew_m;
  v.move_a_m = pose.move_a_m, v.move_half_width_m = pose.move_half_width_m;
  return v;
}

std::string bridge_svg(const BridgeView& v, const DrawingStyle& style) {
  base::check(std::isfinite(v.span_m) && v.span_m > 0, "the span is a positive length", {v.span_m});
  const Layout l = lay_out(v, style.width);
  Svg svg;
  draw_rail(svg, l, l.y_b, side_b_colour, "B", "6 4");
  draw_rail(svg, l, l.y_a, side_a_colour, "A", "");
  draw_sizes(svg, v, l, style);
  draw_bridge(svg, v, l);
  if (v.move_a_m) {
    draw_move(svg, v, l, style);
  } else {
    draw_carriage(svg, v, l, style);
    draw_marks(svg, v, l, style);
  }
  const std::string text = remarks(v, l, style);
  double y = l.y_a + 44 + 32;
  for (const std::string& row : wrap(text, style.width - l.x0, text_size)) {
    letters(svg, {l.x0, y}, row, {muted, text_size});
    y += 14;
  }
  return svg_document(svg, style.width, y, style.id_prefix + "bridge",
                      "The bridge from above, A below, B above, x to the right",
                      fmt::format("Span {}. {}.", shown(v.span_m, style), text));
}

}  // namespace evenbeam::report
