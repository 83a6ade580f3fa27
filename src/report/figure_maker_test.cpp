#include "report/figure_maker.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>

#include "report/bridge_drawing.h"
#include "report/svg.h"
#include "report/text.h"
#include "report/well_formed.h"

using namespace evenbeam;
using namespace evenbeam::report;

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

base::Line line_of(base::Role role, std::string label, std::vector<double> x, std::vector<double> y) {
  base::Line l;
  l.role = role, l.label = std::move(label), l.x = std::move(x), l.y = std::move(y);
  return l;
}

base::Figure one_panel(std::vector<base::Line> lines, std::vector<base::Band> bands = {}) {
  base::Figure figure;
  figure.id = "f", figure.title = "An answer", figure.caption = "A caption.";
  base::Panel panel;
  panel.x = {"time", "s"}, panel.y = {"skew", "m"};
  panel.lines = std::move(lines), panel.bands = std::move(bands);
  figure.panels.push_back(std::move(panel));
  return figure;
}

struct Written {
  std::string text;
  Box box;
};

// Every visible text of a drawing and the box it needs.
std::vector<Written> texts_of(const std::string& svg) {
  std::vector<Written> out;
  const auto number = [&](size_t from, const std::string& name) {
    return std::stod(svg.substr(svg.find(name + "=\"", from) + name.size() + 2));
  };
  for (size_t at = svg.find("<text "); at != svg.npos; at = svg.find("<text ", at + 1)) {
    const size_t end = svg.find('>', at), close = svg.find("</text>", end);
    const std::string head = svg.substr(at, end - at), text = svg.substr(end + 1, close - end - 1);
    if (head.find("aria-hidden") != head.npos) continue;
    const double size = number(at, "font-size"), width = text_width(text, size), x = number(at, " x"),
                 y = number(at, " y");
    const double left = head.find("\"end\"") != head.npos      ? x - width
                        : head.find("\"middle\"") != head.npos ? x - width / 2
                                                               : x;
    out.push_back({text, {left, y - 0.75 * size, left + width, y + 0.2 * size}});
  }
  return out;
}

void check_no_overlap(const std::string& svg, double width) {
  const std::vector<Written> texts = texts_of(svg);
  CHECK(texts.size() > 4);
  for (size_t i = 0; i < texts.size(); ++i) {
    CAPTURE(std::string(texts[i].text));
    CHECK(texts[i].box.x0 >= -0.5);
    CHECK(texts[i].box.x1 <= width + 0.5);
    for (size_t j = i + 1; j < texts.size(); ++j) {
      CAPTURE(std::string(texts[j].text));
      CHECK(!overlap(texts[i].box, texts[j].box));
    }
  }
}

size_t occurrences(const std::string& text, const std::string& part) {
  size_t count = 0;
  for (size_t at = text.find(part); at != text.npos; at = text.find(part, at + 1)) ++count;
  return count;
}

// Eight lines that end at one place, limits near and far, a gap: the hardest figure a station is likely to hand out.
base::Figure crowded() {
  std::vector<base::Line> lines;
  for (int k = 0; k < 8; ++k) {
    base::Line l = line_of(k % 2 ? base::Role::side_b : base::Role::side_a,
                           "move " + std::to_string(k) + ", carriage far out", {}, {});
    for (int i = 0; i <= 200; ++i) {
      l.x.push_back(i * 0.01);
      l.y.push_back(i > 80 && i < 120 && k == 3 ? missing
                                                : 1e-5 * std::sin(i * 0.05 * (k + 1)) * std::exp(-i * 0.03));
    }
    lines.push_back(std::move(l));
  }
  const double inf = std::numeric_limits<double>::infinity();
  base::Figure figure = one_panel(std::move(lines), {{false, 1.2e-5, inf, "process goal (machine.toml)"},
                                                     {false, -inf, -1.2e-5, "process goal, other way"},
                                                     {false, 1e-3, inf, "guide limit (static rating, f_s 2)"},
                                                     {true, 0.5, 0.62, "ramp"},
                                                     {true, 1.5, 1.51, "window of a hundredth"}});
  figure.panels.push_back(figure.panels[0]);
  figure.panels[1].y = {"force", "N"};
  return figure;
}

}  // namespace

TEST_CASE("no text covers another or leaves the drawing") {
  check_no_overlap(figure_svg(crowded(), {}), 680);
  base::Figure logs = crowded();
  logs.panels[0].x.logarithmic = true;
  logs.panels[1].x.logarithmic = true;
  check_no_overlap(figure_svg(logs, {}), 680);
}

TEST_CASE("a path round a circle: magnified evenly, both ways labelled, nothing over another or outside") {
  base::Figure figure;
  figure.id = "f", figure.title = "An answer", figure.caption = "A caption.";
  base::Panel panel{.x = {"angle from +x towards +y", "rad"}, .y = {"radial deviation F", "m"}, .round = true};
  for (const auto role : {base::Role::measured, base::Role::other}) {
    base::Line l{.role = role, .label = role == base::Role::measured ? "anticlockwise" : "clockwise"};
    for (int i = 0; i <= 720; ++i) {
      const double angle = i * 3.14159265358979 / 360;
      l.x.push_back(angle);
      l.y.push_back((role == base::Role::measured ? 1 : -1) * 4e-5 * std::sin(2 * angle));
    }
    panel.lines.push_back(std::move(l));
  }
  figure.panels = {panel};
  const std::string svg = figure_svg(figure, {});
  check_no_overlap(svg, 680);
  CHECK(page_troubles(svg).empty());
  for (const char* word : {">+x<", ">+y<", ">-x<", ">-y<", ">anticlockwise<", ">clockwise<"}) {
    CAPTURE(std::string(word));
    CHECK(svg.find(word) != svg.npos);
  }
  CHECK(svg.find(">radial deviation F, mm<") != svg.npos);
  figure.panels[0].lines[1].y.assign(721, std::nan(""));  // nothing of the other way
  CHECK(page_troubles(figure_svg(figure, {})).empty());
  figure.panels[0].lines.clear();
  CHECK(page_troubles(figure_svg(figure, {})).empty());
}

TEST_CASE("a figure is a titled, described, well-formed picture, the same each time") {
  const std::string svg = figure_svg(crowded(), {});
  CHECK(svg == figure_svg(crowded(), {}));
  CHECK(page_troubles(svg).empty());
  CHECK(svg.find("role=\"img\"") != svg.npos);
  CHECK(svg.find("<title id=\"f-title\">An answer</title>") != svg.npos);
  CHECK(svg.find("<desc id=\"f-desc\">A caption.") != svg.npos);
}

TEST_CASE("axes carry the person's units, limits their source, far limits their place in words") {
  const std::string svg = figure_svg(crowded(), {{"um", "kN"}, 680, ""});
  CHECK(svg.find(">skew, µm<") != svg.npos);
  CHECK(svg.find(">force, 10⁻⁹ kN<") != svg.npos);
  CHECK(svg.find(">time, s<") != svg.npos);
  CHECK(svg.find(">process goal (machine.toml)<") != svg.npos);
  CHECK(svg.find("guide limit (static rating, f_s 2): beyond this scale (from 1000 µm up)") != svg.npos);
  const base::Figure phase = [] {
    base::Figure f = one_panel({line_of(base::Role::side_a, "A", {0, 1}, {0, -3.14159265358979})});
    f.panels[0].y = {"phase", "rad"};
    return f;
  }();
  CHECK(figure_svg(phase, {}).find(">phase, °<") != std::string::npos);
}

TEST_CASE("sides differ by dash and by mark, not by colour alone") {
  const std::vector<double> x = {0, 1, 2}, y = {0, 1, 0};
  const std::string a = figure_svg(one_panel({line_of(base::Role::side_a, "A", x, y)}), {});
  const std::string b = figure_svg(one_panel({line_of(base::Role::side_b, "B", x, y)}), {});
  CHECK(a.find("stroke-dasharray=\"6 4\"") == a.npos);
  CHECK(b.find("stroke-dasharray=\"6 4\"") != b.npos);
  CHECK(a.find("#0072B2") != a.npos);
  CHECK(b.find("#D55E00") != b.npos);
  base::Line points_a = line_of(base::Role::side_a, "A", x, y), points_b = line_of(base::Role::side_b, "B", x, y);
  points_a.stroke = points_b.stroke = base::Stroke::points;
  CHECK(figure_svg(one_panel({points_a}), {}).find("l4.4 4.4") == std::string::npos);
  CHECK(figure_svg(one_panel({points_b}), {}).find("l4.4 4.4") != std::string::npos);
}

TEST_CASE("missing samples break the line and are named where there is room") {
  std::vector<double> x(100), y(100);
  for (size_t i = 0; i < 100; ++i)
    x[i] = static_cast<double>(i), y[i] = i > 40 && i < 60 ? missing : 1.0 + 0.01 * static_cast<double>(i);
  const std::string svg = figure_svg(one_panel({line_of(base::Role::skew, "skew", x, y)}), {});
  const size_t path = svg.find("stroke-width=\"1.6\"");
  REQUIRE(path != svg.npos);
  const size_t start = svg.rfind("<path d=\"", path);
  CHECK(occurrences(svg.substr(start, path - start), "M") == 2);
  CHECK(svg.find(">missing<") != svg.npos);
  const std::string none = figure_svg(one_panel({line_of(base::Role::skew, "skew", {0, 1}, {missing, missing})}), {});
  CHECK(none.find(">skew (missing)<") != none.npos);
  CHECK(none.find("nothing was recorded here") != none.npos);
  CHECK(page_troubles(none).empty());
}

TEST_CASE("a million samples give a small drawing, and the spike is in it") {
  std::vector<double> x(1'000'000), y(1'000'000);
  std::mt19937 random(2);
  for (size_t i = 0; i < x.size(); ++i)
    x[i] = 1e-5 * static_cast<double>(i), y[i] = 1e-9 * static_cast<double>(random() % 1000);
  const std::string calm = figure_svg(one_panel({line_of(base::Role::skew, "s", x, y)}), {});
  y[654'321] = 1e-3;
  const std::string spiked = figure_svg(one_panel({line_of(base::Role::skew, "s", x, y)}), {});
  CHECK(calm.size() < 40'000);
  CHECK(spiked.size() < 40'000);
  CHECK(spiked.find(">1.0<") != spiked.npos);  // the axis reaches 1 mm
  CHECK(calm.find(">1.0<") == calm.npos);
}

TEST_CASE("odd figures are drawn, not refused") {
  const double inf = std::numeric_limits<double>::infinity();
  CHECK(figure_svg(base::Figure{}, {}).empty());
  for (const base::Figure& figure :
       {one_panel({}), one_panel({line_of(base::Role::mean, "m", {1}, {5})}),
        one_panel({line_of(base::Role::mean, "m", {1, 2}, {inf, -inf})}),
        one_panel({line_of(base::Role::mean, "", {1, 2}, {3, 3})}, {{false, -inf, inf, "everything"}}),
        one_panel({line_of(base::Role::mean, "m", {0, 1}, {1e-300, 1e300})}),
        one_panel({line_of(base::Role::mean, "m", {0, 1}, {1e9, 1e9 + 1e-7})})}) {
    const std::string svg = figure_svg(figure, {});
    CHECK(page_troubles(svg).empty());
    CHECK(svg.find("nan") == svg.npos);
    CHECK(svg.find("inf\"") == svg.npos);
  }
}

TEST_CASE("labels are text, not markup") {
  base::Figure figure = one_panel({line_of(base::Role::mean, "</text><script>x</script>", {0, 1}, {0, 1})},
                                  {{false, 0.4, 0.6, "a<b & \"c\""}});
  figure.id = "\"><script>", figure.title = "<b>", figure.caption = "&";
  CHECK(page_troubles(figure_svg(figure, {})).empty());
}

TEST_CASE("the bridge is drawn to scale, with the skew's factor stated and unknowns named") {
  BridgeView view;
  view.span_m = 2, view.travel_m = 3, view.bridge_x_m = 1.5, view.skew_m = 1e-4, view.carriage_y_m = 0.5;
  view.mark_a_x_m = 0.2, view.mark_b_x_m = 0.3;
  const std::string known = bridge_svg(view, {});
  check_no_overlap(known, 680);
  CHECK(page_troubles(known).empty());
  CHECK(known.find("skew 0.1 mm: A ahead, drawn 2000 times as large") != known.npos);
  BridgeView bare;
  bare.span_m = 4;
  const std::string unknown = bridge_svg(bare, {});
  check_no_overlap(unknown, 680);
  CHECK(unknown.find("skew not known") != unknown.npos);
  CHECK(unknown.find("carriage: place not known") != unknown.npos);
  CHECK(unknown.find("travel not known") != unknown.npos);
  CHECK(known.find("not known") == known.npos);
}
