// Squareness against numbers from elsewhere.
//  - two face diagonals and two bridge ends: parallelogram identity, worked by hand (ISO 230-6 idea; derived)
//  - ISO 230-4, circular tests (definitions from memory): circular deviation is the least radial separation of two
//    concentric circles around the path, and may be evaluated about the least-squares circle; a right angle that is
//    off by b makes the diameters at 45 and 135 degrees of a circle of diameter D differ by D b
//  - the demo, measured by a program of its own (demo/generator): truth in demo/truth.json
//  - least-squares circles and forms fitted by numpy and scipy: make_circle_data.py, data/circle_fits.csv
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>

#include "base/near_test.h"
#include "squareness/circle.h"
#include "squareness/methods.h"
#include "squareness/points_file.h"
#include "squareness/square_station.h"

namespace evenbeam::squareness {
namespace {

std::string text_of(const std::string& path) {
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/" + path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}
std::string data(const std::string& name) { return text_of("checks/squareness/data/" + name); }

double truth(const std::string& key) {
  const std::string text = text_of("demo/truth.json");
  const size_t at = text.find('"' + key + '"');
  REQUIRE(at != std::string::npos);
  return std::stod(text.substr(text.find(':', at) + 1));
}

}  // namespace

TEST_CASE("two face diagonals: 1500 by 1000 mm, 20 urad") {
  // D1 = 1802.792279, D2 = 1802.758997 mm; (D1^2 - D2^2)/(4 X Y) = 19.99999999860 urad = sin of the error (derived).
  const double x = 1.5, y = 1.0, e = 20e-6;
  const double longer = std::sqrt(x * x + y * y + 2 * x * y * std::sin(e));
  const double shorter = std::sqrt(x * x + y * y - 2 * x * y * std::sin(e));
  CHECK(std::abs(longer - 1.802792279) < 5.1e-10);
  CHECK(std::abs(shorter - 1.802758997) < 5.1e-10);
  CHECK(std::abs(longer - shorter - 33.282e-6) < 5.1e-10);
  Diagonals d{
      .length_x_m = x, .length_y_m = y, .rising_m = {shorter}, .falling_m = {longer}, .reading_error_m = 1e-6};
  CHECK(std::abs(from_diagonals(d).value_rad - 20e-6) < 1e-12);
  d.rising_m = {1.802758997}, d.falling_m = {1.802792279};
  CHECK(std::abs(from_diagonals(d).value_rad - 20e-6) < 1e-9);  // as printed
}

TEST_CASE("two ends of a bridge: span 1.2 m, 60 um apart") {
  TwoPoints t{
      .y_first_m = -0.6, .y_second_m = 0.6, .x_first_m = {0.5}, .x_second_m = {0.50006}, .reading_error_m = 1e-6};
  const double e = from_two_points(t).value_rad;
  CHECK(std::abs(e - 50e-6) < 1e-9);
  CHECK(e * 180 / std::numbers::pi * 3600 == base::test::near(10.313).epsilon(5e-5));  // arcsec (derived)
  CHECK(e * 0.6 == base::test::near(30e-6));                                           // at each end about the middle
}

TEST_CASE("ISO 230-4: diameters at 45 and 135 degrees differ by diameter times the angle") {
  const double radius = 0.3, e = 80e-6;
  CircleRun run{.radius_m = radius};
  double at_45 = 0, at_135 = 0;
  for (int i = 0; i < 360; ++i) {
    // The path itself, not its linearisation: carriage at R cos p, R sin p on axes that are not square.
    const double p = i * std::numbers::pi / 180, y = radius * std::sin(p);
    const Point at{radius * std::cos(p) - y * std::sin(e), y * std::cos(e)};
    if (i == 45 || i == 225) at_45 += std::hypot(at.x_m, at.y_m);
    if (i == 135 || i == 315) at_135 += std::hypot(at.x_m, at.y_m);
    run.anticlockwise.push_back(at);
  }
  CHECK(at_135 - at_45 == base::test::near(2 * radius * e).epsilon(1e-4));
  run.clockwise = {run.anticlockwise.rbegin(), run.anticlockwise.rend()};
  const CircleResult result = from_circle(run);
  CHECK(result.observation.value_rad == base::test::near(e).epsilon(1e-4));
  CHECK(result.anticlockwise.deviation_m == base::test::near(radius * e).epsilon(1e-3));  // from -eR/2 to +eR/2
}

TEST_CASE("least-squares circles and elliptic forms as numpy and scipy find them") {
  std::istringstream fits(data("circle_fits.csv"));
  std::string line;
  std::getline(fits, line);
  int found = 0;
  while (std::getline(fits, line)) {
    std::replace(line.begin(), line.end(), ',', ' ');
    std::istringstream cells(line);
    int number = 0;
    double nominal = 0, x = 0, y = 0, radius = 0, deviation = 0, cos_2 = 0, sin_2 = 0, zone = 0;
    cells >> number >> nominal >> x >> y >> radius >> deviation >> cos_2 >> sin_2 >> zone;
    REQUIRE(!cells.fail());
    CAPTURE(number);
    const std::string name = fmt::format("circle_{}.csv", number);
    const std::vector<Point> points = read_circle(data(name), name, nominal);
    const CircleFit fit = fit_circle(points);
    REQUIRE(fit.found);
    CHECK(std::abs(fit.circle.centre_x_m - x) < 1e-11);
    CHECK(std::abs(fit.circle.centre_y_m - y) < 1e-11);
    CHECK(std::abs(fit.circle.radius_m - radius) < 1e-11);
    CHECK(std::abs(fit.circle.deviation_m - deviation) < 1e-11);
    const EllipticForm form = elliptic_form(points, fit.circle);
    CHECK(std::abs(form.scale_part_m - cos_2) < 1e-11);
    CHECK(std::abs(form.square_part_m - sin_2) < 1e-11);
    CHECK(fit.circle.deviation_m >= zone);        // the minimum zone is never wider,
    CHECK(fit.circle.deviation_m < 1.15 * zone);  // and here not much narrower
    ++found;
  }
  CHECK(found == 4);
}

TEST_CASE("the demo: intervals hold the truth, and the square that is worse than stated is caught") {
  const Sheet sheet = read_sheet(text_of("demo/job/squareness.toml"), "squareness.toml", 1.6,
                                 [](const std::string& name) { return text_of("demo/job/" + name); });
  machine::Machine machine;
  machine.span_m = 1.6;
  const Squareness s = work_out(sheet, machine);
  CHECK(std::abs(s.combined.value_rad - truth("out_of_square_rad")) < s.combined.half_width_rad);
  CHECK(s.combined.half_width_rad < 10e-6);
  REQUIRE(s.b_minus_a_square_m);
  CHECK(s.b_minus_a_square_m->lower < truth("marks_a_minus_b_square_m"));
  CHECK(s.b_minus_a_square_m->upper > truth("marks_a_minus_b_square_m"));
  CHECK(s.combined.widened == 1);
  CHECK(std::abs(*own_error_rad(sheet.reference_squares.at(0)) - 38e-6) < 10e-6);  // demo/README.md
}

}  // namespace evenbeam::squareness
