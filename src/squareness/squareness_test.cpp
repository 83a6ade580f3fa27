// Methods, budgets, combination, map: against geometry put in exactly, and against brute force.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"
#include "squareness/ball_plate.h"
#include "squareness/circle.h"
#include "squareness/combine.h"
#include "squareness/skew_map.h"
#include "squareness/thermal.h"

namespace evenbeam::squareness {
namespace {

constexpr double pi = std::numbers::pi;

// A point that the machine calls (x, y) while the bridge is turned by e.
Point truly(double x, double y, double e) { return {x - y * std::sin(e), y * std::cos(e)}; }
double distance(Point a, Point b) { return std::hypot(a.x_m - b.x_m, a.y_m - b.y_m); }

Diagonals diagonals(double e, double tape = 1) {
  Diagonals d{.where = {"diagonals", 0.7, ""}, .length_x_m = 1.5, .length_y_m = 1.0, .reading_error_m = 20e-6};
  d.rising_m = {tape * distance(truly(0, -0.5, e), truly(1.5, 0.5, e))};
  d.falling_m = {tape * distance(truly(0, 0.5, e), truly(1.5, -0.5, e))};
  return d;
}

ReferenceSquare reference_square(double e, double own, double lies_first, double lies_turned) {
  ReferenceSquare r{.where = {"square", 0.7, ""}, .length_x_m = 0.4, .length_y_m = 0.6, .reading_error_m = 1e-6};
  const auto along_x = [&](double lies) { return EdgeRun{0, 0.4 * lies}; };
  const auto along_y = [&](double lies, double q) { return EdgeRun{0, 0.6 * (e - (lies + q))}; };
  r.first_x = along_x(lies_first), r.first_y = along_y(lies_first, own);
  r.turned_x = along_x(lies_turned), r.turned_y = along_y(lies_turned, -own);
  return r;
}

// Radius of a circle driven with out of square, scales, lag (sign by direction); exact geometry.
std::vector<Point> circle(double e, double scale_x, double lag, bool anticlockwise, double radius = 0.2) {
  std::vector<Point> points;
  for (int i = 0; i < 360; ++i) {
    const double p = (anticlockwise ? i : -i) * pi / 180;
    const Point at = truly(radius * std::cos(p) * (1 + scale_x), radius * std::sin(p), e);
    const double along = (anticlockwise ? lag : -lag) * std::sin(2 * p);
    points.push_back({at.x_m + along * std::cos(p) + 0.003, at.y_m + along * std::sin(p) - 0.001});
  }
  return points;
}

Observation told(const char* method, std::optional<double> x_m, double value, double u, double shared_u = 0) {
  return observe(method, method, x_m, [](const std::vector<double>& v) { return v[0] + v[1]; },
                 {{{.name = "own", .value = value, .standard_uncertainty = u}, ""},
                  {{.name = "shared", .standard_uncertainty = shared_u}, shared_u > 0 ? method : ""}});
}

}  // namespace

TEST_CASE("every method gives the angle put in, positive where A is ahead") {
  for (const double e : {-3e-4, -2e-5, 0.0, 5e-5, 1e-3}) {
    CAPTURE(e);
    CHECK(std::abs(from_diagonals(diagonals(e)).value_rad - e) < 1e-12);
    CHECK(std::abs(from_diagonals(diagonals(e, 1.001)).value_rad - e) < 2.1e-3 * std::abs(e) + 1e-12);  // long tape
    CHECK(std::abs(from_reference_square(reference_square(e, 5e-5, 1e-4, -2e-4)).value_rad - e) < 1e-15);
    TwoPoints t{.y_first_m = -0.4, .y_second_m = 0.5, .reading_error_m = 1e-6};
    t.true_offset_m = 40e-6;
    t.x_first_m = {1.0 - 0.4 * e}, t.x_second_m = {1.0 + 40e-6 + 0.5 * e};
    CHECK(std::abs(from_two_points(t).value_rad - e) < 1e-15);
    CircleRun c{
        .radius_m = 0.2, .anticlockwise = circle(e, 1e-4, 4e-6, true), .clockwise = circle(e, 1e-4, 4e-6, false)};
    const CircleResult result = from_circle(c);
    CHECK(std::abs(result.observation.value_rad - e) < 1e-4 * std::abs(e) + 2e-8);  // terms e k and e e are left out
    CHECK(std::abs(*result.lag_part_m - 4e-6) < 1e-9);
    CHECK(std::abs(result.scale_mismatch - 1e-4) < 2e-8 + e * e);
    BallPlate b;
    for (int i = 0; i < 4; ++i)
      for (int j = 0; j < 4; ++j) {
        const Point p = truly(0.1 * i, 0.1 * j, e);
        b.shown_x_m.push_back(0.1 * i), b.shown_y_m.push_back(0.1 * j);
        b.true_x_m.push_back(p.x_m * std::cos(0.7) - p.y_m * std::sin(0.7) + 2);  // however the plate lies
        b.true_y_m.push_back(p.x_m * std::sin(0.7) + p.y_m * std::cos(0.7) - 1);
      }
    CHECK(std::abs(fit_plate(b).out_of_square_rad - e) < 1e-12);
    CHECK_FALSE(fit_plate(b).mirrored);
    CHECK(fit_plate(b).degrees == 2 * 16 - 6);  // two readings a ball, six numbers of t and A
    std::swap(b.true_x_m, b.true_y_m);
    CHECK(fit_plate(b).mirrored);
  }
}

TEST_CASE("turned over, a square's own error drops out to far less than a hundredth of it") {
  math::Random random(11);
  double worst = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const double own = random.uniform(2e-5, 2e-4) * (random.uniform() < 0.5 ? -1 : 1),
                 e = random.uniform(-1e-4, 1e-4);
    const ReferenceSquare r = reference_square(e, own, random.uniform(-1e-3, 1e-3), random.uniform(-1e-3, 1e-3));
    worst = std::max(worst, std::abs(from_reference_square(r).value_rad - e) / std::abs(own));
    CHECK(std::abs(*own_error_rad(r) - own) < 1e-15);
    ReferenceSquare one_way = r;
    one_way.turned_x.reset(), one_way.turned_y.reset();
    CHECK(std::abs(from_reference_square(one_way).value_rad - e) > 0.99 * std::abs(own));
  }
  CHECK(worst < 0.01);
}

TEST_CASE("budgets agree with Monte Carlo over the same inputs") {
  Diagonals d = diagonals(8e-5);
  d.point_error_m = 15e-6;
  d.rising_m = {d.rising_m[0] - 5e-6, d.rising_m[0] + 5e-6, d.rising_m[0]};
  const Observation o = from_diagonals(d);
  std::vector<math::UncertainInput> inputs;
  for (const BudgetPart& part : o.budget)
    inputs.push_back({part.name, 0, std::abs(part.part_rad), part.degrees,
                      part.shape == math::Shape::rectangular ? part.shape : math::Shape::normal});
  const auto brute = math::monte_carlo(
      [](const std::vector<double>& v) {
        double sum = 0;
        for (const double x : v) sum += x;
        return sum;
      },
      inputs, 200000, 5);
  CHECK(o.standard_uncertainty_rad == base::test::near(brute.standard_deviation).epsilon(0.01));
  CHECK(o.half_width_rad == base::test::near((brute.upper - brute.lower) / 2).epsilon(0.02));
  // By hand: both diagonals and two corners on each, 1.5 x 1.0 m: de = d(diagonal) * diagonal / (2 X Y).
  const double each = std::sqrt(2 * 20e-6 * 20e-6 / 3 + 4 * 15e-6 * 15e-6 / 3 + 25e-12 / 3);
  CHECK(o.standard_uncertainty_rad == base::test::near(each * std::hypot(1.5, 1.0) / 3).epsilon(1e-3));
}

TEST_CASE("a half width covers 95 % whether one rectangle rules, several, or none") {
  for (const double rectangle : {0.0, 0.5, 1.0, 3.0, 20.0}) {
    std::vector<BudgetPart> parts(2);
    const double inf = std::numeric_limits<double>::infinity();
    parts[0] = {.part_rad = rectangle / std::sqrt(3.0), .degrees = inf, .shape = math::Shape::rectangular};
    parts[1] = {.part_rad = 1, .degrees = inf};
    const double half = half_width_95(parts);
    math::Random random(7);
    long inside = 0;
    constexpr long trials = 200000;
    for (long i = 0; i < trials; ++i)
      inside += std::abs(random.uniform(-rectangle, rectangle) + random.normal()) <= half;
    CAPTURE(rectangle);
    CHECK(std::abs(static_cast<double>(inside) / trials - 0.95) < 0.002);
  }
  CHECK(half_width_95({{.part_rad = 1, .degrees = 4}}) ==
        base::test::near(2.776).epsilon(1e-3));  // Student, 4 degrees
}

TEST_CASE("independent measurements are weighted by their variances, a shared error is not averaged away") {
  const Combined two = combine({told("a", {}, 10e-6, 1e-6), told("b", {}, 14e-6, 2e-6)});
  CHECK(two.value_rad == base::test::near(10.8e-6));
  CHECK(two.standard_uncertainty_rad == base::test::near(std::sqrt(0.8) * 1e-6));
  CHECK(two.chi_square == base::test::near(16.0 / 5));
  CHECK_FALSE(two.disagreement);
  std::vector<Observation> same;
  for (int i = 0; i < 100; ++i) same.push_back(told("one instrument", {}, 10e-6, 1e-6, 3e-6));
  CHECK(combine(same).standard_uncertainty_rad == base::test::near(std::sqrt(9 + 0.01) * 1e-6).epsilon(1e-6));
  CHECK(combine(same).compared == 99);
}

TEST_CASE("a method that disagrees is named with how far it is off, and everything becomes less certain") {
  const Combined c = combine({told("diagonals", {}, 10e-6, 2e-6), told("circle", {}, 12e-6, 2e-6),
                              told("laser", {}, 11e-6, 1e-6), told("two points", {}, -80e-6, 3e-6)});
  REQUIRE(c.disagreement);
  CHECK(c.disagreement->method == "two points");
  CHECK(c.disagreement->against_rad == base::test::near(-91e-6).epsilon(0.02));
  CHECK_FALSE(c.disagreement->two_only);
  CHECK(c.widened == base::test::near(std::sqrt(c.chi_square / 3)));
  CHECK(c.standard_uncertainty_rad > 10 * 0.77e-6);
  const Combined two = combine({told("diagonals", {}, 10e-6, 2e-6), told("circle", {}, 60e-6, 2e-6)});
  REQUIRE(two.disagreement);
  CHECK(two.disagreement->two_only);
  CHECK(two.value_rad + two.half_width_rad > 60e-6);  // neither is shut out
}

TEST_CASE("a map along x: places of the table, the mean along the way, the offset's sign, what remains") {
  AngleTable t{.where = {"laser", {}, ""}, .reading_error_rad = 1e-6, .zero_error_rad = 5e-6};
  for (int i = 0; i <= 10; ++i) {
    t.x_m.push_back(0.1 * i);
    t.out_of_square_rad.push_back(80e-6 + 20e-6 * (0.1 * i - 0.5));
  }
  std::vector<Observation> all = from_angle_table(t);
  all.push_back(told("diagonals", 0.5, 82e-6, 10e-6));
  const Combined c = combine(all);
  REQUIRE(c.places.size() == 11);
  CHECK(c.value_rad == base::test::near(80e-6).epsilon(0.01));
  CHECK(c.standard_uncertainty_rad > 2.5e-6);  // the reference angle is in every row
  const Correction k = correction(c, 2.0);
  CHECK(k.move_a_m == base::test::near(-160e-6).epsilon(0.01));  // A is ahead, so it goes back
  CHECK(k.remains_after_offset_m == base::test::near(20e-6).epsilon(0.01));
  CHECK(k.rows.back().move_a_m == base::test::near(-20e-6).epsilon(0.01));
  CHECK(k.remains_after_table_m > 0);
  CHECK(k.remains_after_table_m < 14e-6);
  // Table and offset together: square at every place.
  for (size_t i = 0; i < k.rows.size(); ++i)
    CHECK(std::abs(k.rows[i].skew_m + k.move_a_m + k.rows[i].move_a_m) < 1e-12);
}

TEST_CASE("one straight line along x where it fits, places of their own where it does not") {
  const auto measured = [](double bow) {
    std::vector<Observation> all;
    for (int i = 0; i <= 4; ++i) {
      const double x = 0.25 * i - 0.5;
      all.push_back(told("laser", x, 50e-6 + 40e-6 * x + bow * x * x, 2e-6));
    }
    return combine(all);
  };
  const Combined line = measured(0), bent = measured(400e-6);
  CHECK(line.compared == 3);
  CHECK(line.value_rad == base::test::near(50e-6));
  CHECK(line.standard_uncertainty_rad == base::test::near(2e-6 / std::sqrt(5.0)));
  CHECK(bent.compared == 0);
  CHECK(bent.places[0].value_rad == base::test::near(130e-6));
  CHECK(bent.value_rad == base::test::near(50e-6 + 400e-6 * (0.25 / 2 + 2 * 0.0625 + 0.25 / 2) / 4));  // trapezium
  // A good measurement in the middle speaks for the whole, though the ends are known badly.
  std::vector<Observation> all{told("diagonals", -0.5, 40e-6, 30e-6), told("diagonals", 0, 70e-6, 30e-6),
                               told("diagonals", 0.5, 50e-6, 30e-6), told("circle", 0, 60e-6, 2e-6)};
  CHECK(combine(all).standard_uncertainty_rad < 2e-6);
}

// At each of three places two readings lie 10 um/m to either side of one straight line, 10 times their uncertainty:
// no line and no curve passes between them, and what is left over is 6 (10)^2 = 600 of both. The line has four of it
// to spare, places of their own three: a curve that follows nothing more is the worse one.
TEST_CASE("repeats that scatter do not bend the line: only what a curve follows better makes it one") {
  std::vector<Observation> all;
  for (int i = 0; i < 3; ++i)
    for (const double off : {-10e-6, 10e-6})
      all.push_back(told("laser", 0.5 * i - 0.5, 50e-6 + 40e-6 * (0.5 * i - 0.5) + off, 1e-6));
  const Combined c = combine(all);
  CHECK(c.chi_square == base::test::near(600));
  CHECK(c.compared == 4);
  CHECK(c.widened == base::test::near(std::sqrt(150.0)));
  CHECK(c.value_rad == base::test::near(50e-6));
  // The middle of the line by all six: sd 1 um/m widened, over the root of six.
  CHECK(c.standard_uncertainty_rad == base::test::near(1e-6 * std::sqrt(150.0 / 6)));
}

TEST_CASE("thermal growth by hand") {
  const Thermal t{.expansion_a_per_k = 11.5e-6,
                  .expansion_b_per_k = 11.5e-6,
                  .expansion_error_per_k = 1e-6,
                  .one_material = true,
                  .warming_a_k = 4,
                  .warming_b_k = 1.5,
                  .warming_error_k = 0.5};
  const ThermalChange c = thermal_change(t, 1.6, 1.2);
  CHECK(c.change_rad == base::test::near(11.5e-6 * 2.5 * 1.2 / 1.6));
  const double warming = 11.5e-6 * 0.5 / std::sqrt(3.0) * std::sqrt(2.0), material = 1e-6 / std::sqrt(3.0) * 2.5;
  CHECK(c.standard_uncertainty_rad == base::test::near(std::hypot(warming, material) * 0.75).epsilon(0.01));
  Thermal apart = t;
  apart.one_material = false;  // two lots of steel: their errors no longer go together
  CHECK(thermal_change(apart, 1.6, 1.2).standard_uncertainty_rad > c.standard_uncertainty_rad);
}

TEST_CASE("a circle: bidirectional deviation and hysteresis show play that the form does not") {
  CircleRun run{.radius_m = 0.2, .anticlockwise = circle(0, 0, 0, true), .clockwise = circle(0, 0, 0, false)};
  for (Point& p : run.clockwise) {  // 3 um larger radius one way round
    const double x = p.x_m - 0.003, y = p.y_m + 0.001, grow = 1 + 3e-6 / std::hypot(x, y);
    p = {0.003 + x * grow, -0.001 + y * grow};
  }
  const CircleResult r = from_circle(run);
  CHECK(r.anticlockwise.deviation_m < 1e-12);
  CHECK(*r.bidirectional_m == base::test::near(3e-6).epsilon(1e-6));
  CHECK(*r.hysteresis_m == base::test::near(3e-6).epsilon(1e-3));
  CHECK(std::abs(r.observation.value_rad) < 1e-12);
}

}  // namespace evenbeam::squareness
