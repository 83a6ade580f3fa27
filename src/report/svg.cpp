#include "report/svg.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "report/text.h"

namespace evenbeam::report {
namespace {

struct Theme {
  Colour colour;
  std::string_view dark;
};
constexpr std::array themes = {
    Theme{side_a_colour, "#5DB4F0"},   Theme{side_b_colour, "#FF9350"}, Theme{ink, "#ECEEF0"},
    Theme{muted, "#A4ABB2"},           Theme{faint, "#3A4046"},         Theme{limit_grey, "#8A9097"},
    Theme{forecast_colour, "#2F6F97"}, Theme{paper, "#15181B"}};

std::string pen_attributes(const Pen& pen) {
  std::string out = fmt::format(R"(class="s-{}" stroke="{}" stroke-width="{}")", pen.colour.name, pen.colour.light,
                                coordinate(pen.width));
  if (!pen.dash.empty()) out += fmt::format(R"( stroke-dasharray="{}")", pen.dash);
  if (pen.opacity < 1) out += fmt::format(R"( stroke-opacity="{:.2f}")", pen.opacity);
  return out;
}

// A tenth of a unit, without a leading zero: path data is most of a drawing's size.
std::string tenths_text(long tenths) {
  std::string text = coordinate(static_cast<double>(tenths) / 10);
  if (text.starts_with("0.")) text.erase(0, 1);
  if (text.starts_with("-0.")) text.erase(1, 1);
  return text;
}

std::string pair_text(long x_tenths, long y_tenths) {
  const std::string y = tenths_text(y_tenths);
  return tenths_text(x_tenths) + (y[0] == '-' ? "" : " ") + y;
}

}  // namespace

bool overlap(const Box& a, const Box& b) { return area_shared(a, b) > 0; }

double area_shared(const Box& a, const Box& b) {
  const double width = std::min(a.x1, b.x1) - std::max(a.x0, b.x0);
  const double height = std::min(a.y1, b.y1) - std::max(a.y0, b.y0);
  return width > 0 && height > 0 ? width * height : 0;
}

void stroke(Svg& svg, std::string_view path, const Pen& pen) {
  if (path.empty()) return;
  svg.body += fmt::format("<path d=\"{}\" fill=\"none\" {}/>\n", path, pen_attributes(pen));
}

void fill(Svg& svg, std::string_view path, Colour colour, double opacity) {
  if (path.empty()) return;
  svg.body += fmt::format("<path d=\"{}\" class=\"f-{}\" fill=\"{}\" fill-opacity=\"{:.2f}\"/>\n", path, colour.name,
                          colour.light, opacity);
}

void line(Svg& svg, Point from, Point to, const Pen& pen) {
  svg.body += fmt::format("<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" {}/>\n", coordinate(from.x),
                          coordinate(from.y), coordinate(to.x), coordinate(to.y), pen_attributes(pen));
}

void rectangle(Svg& svg, const Box& box, Colour colour, double opacity) {
  svg.body += fmt::format(
      "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" class=\"f-{}\" fill=\"{}\" fill-opacity=\"{:.2f}\"/>\n",
      coordinate(box.x0), coordinate(box.y0), coordinate(box.x1 - box.x0), coordinate(box.y1 - box.y0), colour.name,
      colour.light, opacity);
}

void letters(Svg& svg, Point at, std::string_view text, const Lettering& l) {
  std::string more;
  if (l.anchor == Anchor::middle) more += " text-anchor=\"middle\"";
  if (l.anchor == Anchor::end) more += " text-anchor=\"end\"";
  if (l.bold) more += " font-weight=\"600\"";
  const std::string position = fmt::format("x=\"{}\" y=\"{}\" font-size=\"{}\"{}", coordinate(at.x), coordinate(at.y),
                                           coordinate(l.size), more);
  const std::string content = escape(text);
  // The rim is a text of its own below the other: paint-order is not known to every reader of SVG.
  if (l.halo)
    svg.body += fmt::format(
        "<text {} aria-hidden=\"true\" class=\"f-paper s-paper\" fill=\"{}\" stroke=\"{}\" "
        "stroke-width=\"3\">{}</text>\n",
        position, paper.light, paper.light, content);
  svg.body += fmt::format("<text {} class=\"f-{}\" fill=\"{}\">{}</text>\n", position, l.colour.name, l.colour.light,
                          content);
}

void PathData::move_to(Point p) {
  x_tenths_ = std::lround(p.x * 10), y_tenths_ = std::lround(p.y * 10);
  text_ += 'M' + pair_text(x_tenths_, y_tenths_);
}

void PathData::line_to(Point p) {
  const long x = std::lround(p.x * 10), y = std::lround(p.y * 10);
  text_ += 'l' + pair_text(x - x_tenths_, y - y_tenths_);
  x_tenths_ = x, y_tenths_ = y;
}

std::string svg_document(const Svg& svg, double width, double height, std::string_view id, std::string_view title,
                         std::string_view description) {
  const std::string safe = id_text(id);
  return fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawing\" role=\"img\" viewBox=\"0 0 {} {}\" "
      "aria-labelledby=\"{}-title {}-desc\" font-family=\"Segoe UI, Helvetica Neue, Liberation Sans, Arial, DejaVu "
      "Sans, sans-serif\" stroke-linecap=\"round\" stroke-linejoin=\"round\">\n<title "
      "id=\"{}-title\">{}</title>\n<desc "
      "id=\"{}-desc\">{}</desc>\n{}</svg>\n",
      coordinate(width), coordinate(height), safe, safe, safe, escape(title), safe, escape(description), svg.body);
}

std::string figure_css() {
  std::string light, dark, rules;
  for (const Theme& theme : themes) {
    light += fmt::format("--{}:{};", theme.colour.name, theme.colour.light);
    dark += fmt::format("--{}:{};", theme.colour.name, theme.dark);
    rules += fmt::format(".s-{0}{{stroke:var(--{0})}}.f-{0}{{fill:var(--{0})}}", theme.colour.name);
  }
  // Paper is always light: the dark values hold on screens only.
  return fmt::format(
      ":root{{color-scheme:light dark;{}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{}}}}}\n"
      "svg.drawing{{display:block;width:100%;height:auto}}\n{}\n",
      light, dark, rules);
}

}  // namespace evenbeam::report
