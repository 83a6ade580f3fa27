#pragma once
// Elements of a drawing, written in order. Presentation attributes carry the light colours, so that a drawing stands
// by itself; the classes let figure_css() turn them into the page's own, light or dark.
#include <string>
#include <string_view>

#include "report/decimate.h"

namespace evenbeam::report {

struct Svg {
  std::string body;
};

struct Box {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
};
bool overlap(const Box& a, const Box& b);
double area_shared(const Box& a, const Box& b);

// A colour of the visual language: the class that themes it and its light value.
struct Colour {
  std::string_view name;  // "a", "b", "ink", "muted", "faint", "limit", "forecast", "paper"
  std::string_view light;
};
inline constexpr Colour side_a_colour{"a", "#0072B2"}, side_b_colour{"b", "#D55E00"}, ink{"ink", "#111111"},
    muted{"muted", "#5B6167"}, faint{"faint", "#D9DCDF"}, limit_grey{"limit", "#8A9097"},
    forecast_colour{"forecast", "#56B4E9"}, paper{"paper", "#FFFFFF"};

struct Pen {
  Colour colour = ink;
  double width = 1;
  std::string_view dash = "";  // SVG stroke-dasharray, "" solid
  double opacity = 1;
};

enum class Anchor { start, middle, end };
struct Lettering {
  Colour colour = ink;
  double size = 11;
  Anchor anchor = Anchor::start;
  bool bold = false;
  bool halo = false;  // paper-coloured rim, for text that stands on lines
};

void stroke(Svg& svg, std::string_view path, const Pen& pen);
void fill(Svg& svg, std::string_view path, Colour colour, double opacity);
void line(Svg& svg, Point from, Point to, const Pen& pen);
void rectangle(Svg& svg, const Box& box, Colour colour, double opacity);
void letters(Svg& svg, Point at, std::string_view text, const Lettering& lettering);  // `at` is on the base line

// Path data with rounded, relative coordinates: rounding never adds up.
class PathData {
 public:
  void move_to(Point p);
  void line_to(Point p);
  void close() { text_ += 'z'; }
  const std::string& text() const { return text_; }

 private:
  std::string text_;
  long x_tenths_ = 0, y_tenths_ = 0;
};

// The whole drawing. `id` must be unique in its page.
std::string svg_document(const Svg& svg, double width, double height, std::string_view id, std::string_view title,
                         std::string_view description);

// Colours as variables for light and dark, and the rules that hand them to the classes.
std::string figure_css();

}  // namespace evenbeam::report
