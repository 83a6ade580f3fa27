#include "squareness/sheet_methods.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "squareness/points_file.h"
#include "units/unit.h"

namespace evenbeam::squareness {
namespace {

using machine::Plausible;
using machine::TableReader;

constexpr Plausible length{0.01, 100}, small_error{1e-9, 5e-3}, angle_error{1e-8, 5e-3};

// A list of quantities; `count` 0 takes any but none.
std::vector<double> needed_list(TableReader& t, std::string_view key, std::string_view unit, std::size_t count,
                                const std::string& example) {
  const auto texts = t.texts(key, example);
  const auto dimension = units::find_unit(unit)->dimension;
  if (!texts && !t.has(key)) t.missing(key, "a list of " + units::describe(dimension), example);
  std::vector<double> out;
  if (!texts) return out;
  for (const std::string& text : *texts) {
    const auto quantity = units::parse_quantity(text);
    if (!quantity || quantity->unit.dimension != dimension || !std::isfinite(quantity->value_si)) {
      t.refuse(key, units::describe(dimension) + " in each place", fmt::format("Right: {} = {}.", key, example),
               fmt::format("\"{}\" in {}", text.substr(0, 40), key));
      return {};
    }
    out.push_back(quantity->value_si);
  }
  if (out.empty() || (count > 0 && out.size() != count)) {
    t.refuse(key, count > 0 ? fmt::format("{} values", count) : "one value or more",
             fmt::format("Right: {} = {}.", key, example), fmt::format("{} values in {}", out.size(), key));
    return {};
  }
  return out;
}

Where read_where(TableReader& t, const std::string& method, std::size_t number) {
  Where w{.name = fmt::format("{} {}", method, number + 1)};
  w.name = t.text("name", w.name).value_or(w.name);
  w.x_m = t.quantity("x", "m", place, "700 mm");
  w.instrument = t.text("instrument", "tape 3").value_or("");
  return w;
}

void within_span(TableReader& t, std::string_view key, double value, double span_m) {
  if (value > span_m)
    t.refuse(key, fmt::format("at most the span of machine.toml, {:g} mm", span_m * 1e3),
             "The carriage cannot reach further than the rails are apart: correct it here, or the span there");
}

EdgeRun read_run(TableReader& t, std::string_view key) {
  const auto ends = needed_list(t, key, "m", 2, "[\"0 um\", \"12 um\"]");
  return ends.size() == 2 ? EdgeRun{ends[0], ends[1]} : EdgeRun{};
}

// The text of a file named in the table; its troubles are told with those of the sheet.
template <class Take>
void with_file(TableReader& t, std::string_view key, const std::string& path, const SheetReader& reader, Take take) {
  if (path.find('/') == std::string::npos || path.front() == '/' || path.find("..") != std::string::npos)
    return t.refuse(key, "a file in a folder below the job's, by its path",
                    "Put it into the folder squareness and write squareness/ before its name");
  take(reader.read(path));
}

double largest_gap_rad(std::vector<Point> points, const FittedCircle& circle) {
  std::vector<double> angles;
  for (const Point& p : points) angles.push_back(std::atan2(p.y_m - circle.centre_y_m, p.x_m - circle.centre_x_m));
  std::sort(angles.begin(), angles.end());
  double gap = 2 * std::numbers::pi - (angles.back() - angles.front());
  for (size_t i = 1; i < angles.size(); ++i) gap = std::max(gap, angles[i] - angles[i - 1]);
  return gap;
}

// By the sign of the area that they go round.
bool go_anticlockwise(const std::vector<Point>& p) {
  double twice_area_m2 = 0;
  for (size_t i = 0; i < p.size(); ++i) {
    const Point& next = p[(i + 1) % p.size()];
    twice_area_m2 += p[i].x_m * next.y_m - next.x_m * p[i].y_m;
  }
  return twice_area_m2 > 0;
}

std::vector<Point> read_direction(TableReader& t, const char* key, bool anticlockwise, double radius_m,
                                  const SheetReader& reader, std::string& path) {
  std::vector<Point> points;
  const auto named = t.text(key, "squareness/circle-1.csv");
  if (!named) return points;
  path = *named;
  with_file(t, key, path, reader, [&](const std::string& bytes) { points = read_circle(bytes, path, radius_m); });
  if (points.empty() || !std::isfinite(radius_m)) return {};
  const CircleFit fit = fit_circle(points);
  const auto no = [&](std::string expected, std::string found) {
    t.refuse(key, std::move(expected), "Check the file, its units and the radius", path + ": " + std::move(found));
    points.clear();
  };
  if (points.size() < 16)
    no("16 points or more, better 360", fmt::format("{} points", points.size()));
  else if (!fit.found)
    no("points on a circle", "points on no circle");
  else if (std::abs(fit.circle.radius_m / radius_m - 1) > 0.05)
    no(fmt::format("a radius of {:g} mm within 5 %", radius_m * 1e3),
       fmt::format("a circle of radius {:.4g} mm", fit.circle.radius_m * 1e3));
  else if (const double gap = largest_gap_rad(points, fit.circle); gap > std::numbers::pi / 4)
    no("points all round, no gap beyond 45 degrees",
       fmt::format("a gap of {:.0f} degrees", gap * 180 / std::numbers::pi));
  else if (go_anticlockwise(points) != anticlockwise)
    no(anticlockwise ? "points in the order driven, anticlockwise seen from above (+x towards +y)"
                     : "points in the order driven, clockwise seen from above (+y towards +x)",
       "points the other way round");
  return points;
}

}  // namespace

double needed(TableReader& t, std::string_view key, std::string_view unit, Plausible range,
              std::string_view example) {
  const auto value = t.quantity(key, unit, range, example);
  if (!value && !t.has(key))
    t.missing(key, units::describe(units::find_unit(unit)->dimension), fmt::format("\"{}\"", example));
  return value.value_or(std::nan(""));
}

Diagonals read_diagonals(TableReader& t, std::size_t number, const SheetReader& reader) {
  Diagonals d{.where = read_where(t, "diagonals", number)};
  d.length_x_m = needed(t, "length_x", "m", length, "1500 mm");
  d.length_y_m = needed(t, "length_y", "m", length, "1000 mm");
  const std::string example = "[\"1802.79 mm\", \"1802.80 mm\"]";
  d.rising_m = needed_list(t, "rising", "m", 0, example);
  d.falling_m = needed_list(t, "falling", "m", 0, example);
  d.reading_error_m = needed(t, "reading_error", "m", small_error, "0.05 mm");
  d.point_error_m = t.quantity("point_error", "m", {0, 5e-3}, "0.03 mm").value_or(0);
  within_span(t, "length_y", d.length_y_m, reader.span_m);
  const double whole = std::hypot(d.length_x_m, d.length_y_m);
  const auto judge = [&](const char* key, const std::vector<double>& readings) {
    for (const double r : readings)
      if (std::abs(r / whole - 1) > 0.02)
        return t.refuse(key, fmt::format("about {:.1f} mm, the diagonal of length_x by length_y", whole * 1e3),
                        "Check the unit and which points were measured", fmt::format("{} = {:.3f} mm", key, r * 1e3));
  };
  judge("rising", d.rising_m);
  judge("falling", d.falling_m);
  return d;
}

ReferenceSquare read_reference_square(TableReader& t, std::size_t number, const SheetReader& reader) {
  ReferenceSquare r{.where = read_where(t, "reference square", number)};
  r.length_x_m = needed(t, "length_x", "m", length, "400 mm");
  r.length_y_m = needed(t, "length_y", "m", length, "600 mm");
  r.first_x = read_run(t, "first_along_x");
  r.first_y = read_run(t, "first_along_y");
  if (t.has("turned_along_x") || t.has("turned_along_y")) {
    r.turned_x = read_run(t, "turned_along_x");
    r.turned_y = read_run(t, "turned_along_y");
  }
  r.reading_error_m = needed(t, "reading_error", "m", small_error, "2 um");
  const auto own = t.quantity("square_error", "rad", angle_error, "10 urad");
  if (!own && !r.turned_x && !t.has("square_error"))
    t.missing("square_error", "the square's own error, or better the readings with the square turned over",
              "\"10 urad\"");
  r.square_error_rad = own.value_or(0);
  within_span(t, "length_y", r.length_y_m, reader.span_m);
  return r;
}

TwoPoints read_two_points(TableReader& t, std::size_t number, const SheetReader& reader) {
  TwoPoints p{.where = read_where(t, "two points", number)};
  p.y_first_m = needed(t, "y_first", "m", {-50, 50}, "-500 mm");
  p.y_second_m = needed(t, "y_second", "m", {-50, 50}, "500 mm");
  p.x_first_m = needed_list(t, "x_first", "m", 0, "[\"300.012 mm\", \"300.013 mm\"]");
  p.x_second_m = needed_list(t, "x_second", "m", 0, "[\"300.064 mm\"]");
  p.true_offset_m = t.quantity("true_offset", "m", {-1, 1}, "0 mm").value_or(0);
  p.true_offset_error_m = needed(t, "true_offset_error", "m", small_error, "5 um");
  p.reading_error_m = needed(t, "reading_error", "m", small_error, "3 um");
  if (p.y_second_m - p.y_first_m < 0.01)
    t.refuse("y_second", "a place at least 10 mm further towards B than y_first",
             "Let the first point be the one nearer to side A");
  within_span(t, "y_second", p.y_second_m - p.y_first_m, reader.span_m);
  return p;
}

AngleTable read_angle_table(TableReader& t, std::size_t number, const SheetReader&) {
  AngleTable a{.where = read_where(t, "angle table", number)};
  a.x_m = needed_list(t, "places", "m", 0, "[\"0 mm\", \"250 mm\", \"500 mm\"]");
  a.out_of_square_rad =
      needed_list(t, "out_of_square", "rad", a.x_m.size(), "[\"80 urad\", \"86 urad\", \"91 urad\"]");
  a.reading_error_rad = needed(t, "reading_error", "rad", angle_error, "2 urad");
  a.zero_error_rad = needed(t, "zero_error", "rad", angle_error, "5 urad");
  if (a.x_m.size() != a.out_of_square_rad.size()) a.x_m.clear(), a.out_of_square_rad.clear();
  return a;
}

CircleRun read_circle_run(TableReader& t, std::size_t number, const SheetReader& reader) {
  CircleRun c{.where = read_where(t, "circle", number)};
  c.radius_m = needed(t, "radius", "m", {0.01, 5}, "300 mm");
  c.anticlockwise = read_direction(t, "anticlockwise", true, c.radius_m, reader, c.file_anticlockwise);
  c.clockwise = read_direction(t, "clockwise", false, c.radius_m, reader, c.file_clockwise);
  c.reading_error_m = needed(t, "reading_error", "m", small_error, "1 um");
  const auto lag = t.quantity("lag_error", "m", small_error, "3 um");
  c.lag_error_m = lag.value_or(0);
  const int directions = t.has("anticlockwise") + t.has("clockwise");
  if (directions == 0)
    t.missing("anticlockwise", "the points of one direction, better of both", "\"squareness/circle-1.csv\"");
  if (directions == 1 && !lag && !t.has("lag_error"))
    t.missing("lag_error", "the other direction as well, or what unequal lags of the axes may do to the form",
              "\"3 um\"");
  return c;
}

BallPlate read_ball_plate(TableReader& t, std::size_t number, const SheetReader& reader) {
  BallPlate b{.where = read_where(t, "ball plate", number)};
  const auto file = t.text("file", "squareness/plate.csv");
  if (!file && !t.has("file"))
    t.missing("file", "a table with true_x, true_y, shown_x, shown_y", "\"squareness/plate.csv\"");
  b.plate_error_rad = needed(t, "plate_error", "rad", angle_error, "2 urad");
  if (!file) return b;
  b.file = *file;
  with_file(t, "file", b.file, reader, [&](const std::string& bytes) {
    auto columns =
        read_columns(bytes, b.file, {{"true_x", "m"}, {"true_y", "m"}, {"shown_x", "m"}, {"shown_y", "m"}});
    b.true_x_m = columns[0], b.true_y_m = columns[1], b.shown_x_m = columns[2], b.shown_y_m = columns[3];
  });
  if (b.true_x_m.empty()) return b;
  const PlateFit fit = b.true_x_m.size() < 4 ? PlateFit{} : fit_plate(b);
  if (b.true_x_m.size() < 4 || !fit.found || fit.mirrored)
    t.refuse("file", "four balls or more, not in a line, both pairs of axes turning the same way",
             "Check the columns: true is the certificate's, shown the machine's",
             fmt::format("{}: {}", b.file,
                         b.true_x_m.size() < 4 ? fmt::format("{} balls", b.true_x_m.size())
                         : !fit.found          ? fit.reason
                                               : "true and shown axes that turn opposite ways"));
  if (!fit.found || fit.mirrored) b.true_x_m.clear();
  return b;
}

}  // namespace evenbeam::squareness
