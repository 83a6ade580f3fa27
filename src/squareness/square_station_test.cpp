// The station: verdicts, signs that reach the mechanic, the number that marks takes over.
#include "squareness/square_station.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"

namespace evenbeam::squareness {
namespace {

machine::Machine machine_of(double span_m) {
  machine::Machine m;
  m.span_m = span_m;
  m.limits.travel_m = 1.0;
  return m;
}

// Two points 1 m apart that say out of square by `e`, good to a few microradian.
TwoPoints points(double e, double x_m = 0.5) {
  TwoPoints t{.where = {"two points", x_m, ""}, .y_first_m = -0.5, .y_second_m = 0.5, .reading_error_m = 2e-6};
  t.x_first_m = {x_m}, t.x_second_m = {x_m + e};
  t.true_offset_error_m = 2e-6;
  return t;
}

double number(const base::StationOutcome& out, const char* key) {
  const base::Value* value = base::find_value(out.result, key);
  REQUIRE(value != nullptr);
  return std::get<double>(value->value);
}

const base::Finding& finding(const base::StationOutcome& out, const char* id) {
  const base::Finding* f = base::find_finding(out.result, id);
  REQUIRE_MESSAGE(f != nullptr, id);
  return *f;
}

}  // namespace

TEST_CASE("nothing measured is not done, with how to measure and the caution") {
  const auto out = square_station({}, machine_of(1.6), {});
  CHECK(out.result.verdict == base::Verdict::not_done);
  CHECK(out.result.findings.at(0).next.find("locked out") != std::string::npos);
  CHECK(out.figures.empty());
}

TEST_CASE("the move's sign: A ahead goes back, A behind goes forward") {
  for (const double e : {75e-6, -75e-6}) {
    Sheet sheet;
    sheet.two_points = {points(e), points(e)};
    const auto out = square_station(sheet, machine_of(1.6), {});
    CHECK(number(out, "out_of_square_rad") == base::test::near(e));
    CHECK(number(out, "move_a_m") == base::test::near(-1.6 * e));
    const std::string way = e > 0 ? "move A 0.120 mm towards -x, or B 0.120 mm towards +x"
                                  : "move A 0.120 mm towards +x, or B 0.120 mm towards -x";
    CHECK(finding(out, "set_right").text.find(way) != std::string::npos);
    CHECK(finding(out, "out_of_square").verdict == base::Verdict::attention);
    REQUIRE(out.figures.at(0).bridge.has_value());
    CHECK(out.figures[0].bridge->move_a_m == base::test::near(-1.6 * e));
    CHECK(out.figures[0].bridge->skew_m == base::test::near(1.6 * e));
  }
}

TEST_CASE("b - a of the square attitude: homed with it the same machine measures square") {
  // Marks: A's at 0.1023 m, B's at 0.1000 m in true places; square is a true skew of 30 um.
  const double mark_a = 0.1023, mark_b = 0.1, square_skew = 30e-6, span = 1.6;
  const auto skew_homed = [&](double b_minus_a) { return mark_a - mark_b - b_minus_a; };
  const auto measured = [&](double b_minus_a) {
    Sheet sheet;
    sheet.two_points = {points((skew_homed(b_minus_a) - square_skew) / span)};
    sheet.attitude = Attitude{b_minus_a, 1e-6};
    return square_station(sheet, machine_of(span), {});
  };
  const double square = number(measured(2.12e-3), "b_minus_a_square_m");
  CHECK(square == base::test::near(2.27e-3));
  CHECK(std::abs(number(measured(square), "out_of_square_rad")) < 1e-12);
}

TEST_CASE("without the attitude the offset stays unknown, and the next step says so") {
  Sheet sheet;
  sheet.two_points = {points(5e-6)};
  const auto out = square_station(sheet, machine_of(1.6), {});
  const base::Value* value = base::find_value(out.result, "b_minus_a_square_m");
  REQUIRE(value != nullptr);
  CHECK(std::holds_alternative<std::monostate>(value->value));
  CHECK(finding(out, "attitude").next.find("[attitude]") != std::string::npos);
  CHECK(finding(out, "methods_agree").verdict == base::Verdict::attention);  // one alone
  CHECK(finding(out, "out_of_square").verdict == base::Verdict::pass);
}

TEST_CASE("square enough, not square enough, and cannot be told") {
  const auto verdict = [](double e, double wanted) {
    Sheet sheet;
    sheet.wanted_rad = wanted;
    sheet.two_points = {points(e)};
    return finding(square_station(sheet, machine_of(1.6), {}), "out_of_square");
  };
  CHECK(verdict(10e-6, 40e-6).verdict == base::Verdict::pass);
  CHECK(verdict(80e-6, 40e-6).text.find("more than wanted") != std::string::npos);
  CHECK(verdict(40e-6, 40e-6).text.find("cannot tell") != std::string::npos);
}

TEST_CASE("more than guides take by offset is a stop: loosen an end instead") {
  Sheet sheet;
  sheet.two_points = {points(1e-3)};
  const auto out = square_station(sheet, machine_of(1.6), {.allowable_skew_m = 0.5e-3});
  CHECK(out.result.verdict == base::Verdict::stop);
  CHECK(finding(out, "set_right").next.find("loosen one end") != std::string::npos);
  CHECK(square_station(sheet, machine_of(1.6), {.allowable_skew_m = 2e-3}).result.verdict != base::Verdict::stop);
}

TEST_CASE("methods that disagree are a finding, with a wider interval that shuts out neither of two") {
  Sheet sheet;
  sheet.two_points = {points(20e-6)};
  AngleTable t{.where = {"laser", {}, ""}, .x_m = {0.5}, .out_of_square_rad = {90e-6}};
  t.reading_error_rad = 1e-6, t.zero_error_rad = 3e-6;
  sheet.angle_tables = {t};
  const auto out = square_station(sheet, machine_of(1.6), {});
  CHECK(finding(out, "methods_agree").verdict == base::Verdict::attention);
  CHECK(finding(out, "methods_agree").text.find("not known") != std::string::npos);
  const base::Value* value = base::find_value(out.result, "out_of_square_rad");
  CHECK(*value->lower < 20e-6);
  CHECK(*value->upper > 90e-6);
}

TEST_CASE("two identical diagonals are said, and leave a number with its uncertainty") {
  Diagonals d{.where = {"diagonals 1", 0.5, ""}, .length_x_m = 0.8, .length_y_m = 1.2, .reading_error_m = 50e-6};
  d.rising_m = d.falling_m = {1.4422};
  Sheet sheet;
  sheet.diagonals = {d};
  const auto out = square_station(sheet, machine_of(1.6), {});
  CHECK(number(out, "out_of_square_rad") == 0);
  CHECK(finding(out, "same_diagonals_1").verdict == base::Verdict::attention);
  CHECK(*base::find_value(out.result, "out_of_square_rad")->upper > 20e-6);
}

TEST_CASE("a square worse than its certificate, and one not turned over") {
  ReferenceSquare r{.where = {"granite", 0.5, ""}, .length_x_m = 0.4, .length_y_m = 0.6, .reading_error_m = 1e-6};
  r.square_error_rad = 10e-6;
  r.first_x = r.first_y = EdgeRun{0, 0};
  Sheet sheet;
  sheet.reference_squares = {r};
  CHECK(finding(square_station(sheet, machine_of(1.6), {}), "reference_square_1").text.find("one way") !=
        std::string::npos);
  sheet.reference_squares[0].turned_x = EdgeRun{0, 0}, sheet.reference_squares[0].turned_y = EdgeRun{0, 0.6 * 80e-6};
  const base::Finding f = finding(square_station(sheet, machine_of(1.6), {}), "reference_square_1");
  CHECK(f.value.value() == base::test::near(40e-6));
  CHECK(f.verdict == base::Verdict::attention);
}

TEST_CASE("the map, its compensation table as text, and warming") {
  Sheet sheet;
  for (const double x : {0.1, 0.5, 0.9}) sheet.two_points.push_back(points(50e-6 + 90e-6 * (x - 0.5), x));
  sheet.thermal = Thermal{.expansion_a_per_k = 11.5e-6,
                          .expansion_b_per_k = 11.5e-6,
                          .expansion_error_per_k = 1e-6,
                          .one_material = true,
                          .warming_a_k = 4,
                          .warming_b_k = 1.5,
                          .warming_error_k = 0.5};
  const auto out = square_station(sheet, machine_of(1.6), {});
  CHECK(number(out, "remains_after_offset_m") == base::test::near(57.6e-6));
  CHECK(finding(out, "along_x").verdict == base::Verdict::pass);  // inside 40 urad times the span
  CHECK(number(out, "thermal_change_rad") == base::test::near(11.5e-6 * 2.5 * 1.0 / 1.6));
  const auto csv = compensation_csv(out.result);
  REQUIRE(csv);
  CHECK(
      csv->find("x_m,move_a_towards_plus_x_m\n0.100000,0.000057600\n0.500000,0.000000000\n0.900000,-0.000057600\n") !=
      std::string::npos);
  CHECK_FALSE(compensation_csv(square_station({}, machine_of(1.6), {}).result));
}

}  // namespace evenbeam::squareness
