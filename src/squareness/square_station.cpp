#include "squareness/square_station.h"

#include <cmath>

namespace evenbeam::squareness {
namespace {

using base::Row;
using base::Value;

Value with_interval(double value, double half_width, const char* unit) {
  return {.value = value, .unit = unit, .lower = value - half_width, .upper = value + half_width};
}

std::vector<Row> method_rows(const Squareness& s) {
  std::vector<Row> rows;
  for (size_t i = 0; i < s.observations.size(); ++i) {
    const Observation& o = s.observations[i];
    Row row{{"measurement", o.name}, {"method", o.method}};
    if (o.x_m) row.emplace_back("x_m", *o.x_m);
    row.insert(row.end(), {{"out_of_square_rad", o.value_rad},
                           {"lower", o.value_rad - o.half_width_rad},
                           {"upper", o.value_rad + o.half_width_rad},
                           {"standard_uncertainty_rad", o.standard_uncertainty_rad},
                           {"weight", s.combined.weights[i]}});
    rows.push_back(std::move(row));
  }
  return rows;
}

// One budget a measurement; an angle table's rows have all the same, so its first stands for them.
std::vector<Row> budget_rows(const Squareness& s) {
  std::vector<Row> rows;
  std::string last;
  for (const Observation& o : s.observations) {
    if (o.method == "angle table" && o.name == last) continue;
    last = o.name;
    for (const BudgetPart& part : o.budget) {
      if (part.part_rad == 0) continue;
      Row row{{"measurement", o.name}, {"input", part.name}, {"part_rad", std::abs(part.part_rad)}};
      if (std::isfinite(part.degrees)) row.emplace_back("degrees", part.degrees);
      if (!part.shared.empty()) row.emplace_back("shared", part.shared);
      rows.push_back(std::move(row));
    }
  }
  return rows;
}

std::vector<Row> circle_rows(const std::vector<CircleResult>& circles) {
  std::vector<Row> rows;
  for (const CircleResult& c : circles) {
    Row row{{"measurement", c.name}};
    if (c.anticlockwise.radius_m > 0) row.emplace_back("deviation_anticlockwise_m", c.anticlockwise.deviation_m);
    if (c.clockwise.radius_m > 0) row.emplace_back("deviation_clockwise_m", c.clockwise.deviation_m);
    if (c.bidirectional_m) row.emplace_back("bidirectional_m", *c.bidirectional_m);
    if (c.hysteresis_m) row.emplace_back("hysteresis_m", *c.hysteresis_m);
    row.emplace_back("scale_x_over_y", c.scale_mismatch);
    rows.push_back(std::move(row));
  }
  return rows;
}

void put_map(const Squareness& s, double span_m, base::StationResult& result) {
  std::vector<Row> map, table;
  for (const MapRow& row : s.correction.rows) {
    map.push_back({{"x_m", row.x_m},
                   {"out_of_square_rad", row.skew_m / span_m},
                   {"lower", (row.skew_m - row.half_width_m) / span_m},
                   {"upper", (row.skew_m + row.half_width_m) / span_m},
                   {"skew_m", row.skew_m}});
    table.push_back({{"x_m", row.x_m}, {"move_a_m", row.move_a_m}});
  }
  auto& v = result.values;
  if (!s.combined.along_x) return;
  v.emplace_back("skew_map", Value{.value = map});
  // A table whose own uncertainty is larger than what it corrects is none.
  const bool helps = s.correction.remains_after_table_m < s.correction.remains_after_offset_m;
  v.emplace_back("compensation", helps ? Value{.value = table} : Value{});
  v.emplace_back("remains_after_offset_m", Value{.value = s.correction.remains_after_offset_m, .unit = "m"});
  v.emplace_back("remains_after_table_m", Value{.value = s.correction.remains_after_table_m, .unit = "m"});
}

void put_values(const Squareness& s, double span_m, base::StationResult& result) {
  auto& v = result.values;
  const Combined& c = s.combined;
  v.emplace_back("out_of_square_rad", with_interval(c.value_rad, c.half_width_rad, "rad"));
  v.emplace_back("move_a_m", with_interval(s.correction.move_a_m, s.correction.half_width_m, "m"));
  Value square{.unit = "m"};
  if (const auto& known = s.b_minus_a_square_m)
    square = {.value = known->value, .unit = "m", .lower = known->lower, .upper = known->upper};
  v.emplace_back("b_minus_a_square_m", square);
  put_map(s, span_m, result);
  if (s.thermal) {
    v.emplace_back("thermal_change_rad", with_interval(s.thermal->change_rad, s.thermal->half_width_rad, "rad"));
    v.emplace_back("thermal_change_at_x_m", Value{.value = s.thermal->x_m, .unit = "m"});
  }
  if (c.compared > 0) {
    v.emplace_back("agreement_chi_square", Value{.value = c.chi_square, .unit = "1"});
    v.emplace_back("agreement_limit", Value{.value = c.chi_square_limit, .unit = "1"});
  }
  v.emplace_back("measurements", Value{.value = method_rows(s)});
  v.emplace_back("budgets", Value{.value = budget_rows(s)});
  if (!s.circles.empty()) v.emplace_back("circles", Value{.value = circle_rows(s.circles)});
}

double far_x(const Squareness& s, const Thermal& thermal, const machine::Machine& machine) {
  double x = machine.limits.travel_m.value_or(s.combined.places.back().x_m);
  for (const Place& place : s.combined.places)
    if (std::abs(place.x_m - thermal.fixed_x_m) > std::abs(x - thermal.fixed_x_m)) x = place.x_m;
  return x;
}

}  // namespace

Squareness work_out(const Sheet& sheet, const machine::Machine& machine) {
  Squareness s;
  auto& list = s.observations;
  for (const auto& d : sheet.diagonals) list.push_back(from_diagonals(d));
  for (const auto& r : sheet.reference_squares) list.push_back(from_reference_square(r));
  for (const auto& c : sheet.circles) {
    s.circles.push_back(from_circle(c));
    list.push_back(s.circles.back().observation);
  }
  for (const auto& t : sheet.angle_tables)
    for (Observation& o : from_angle_table(t)) list.push_back(std::move(o));
  for (const auto& b : sheet.ball_plates) list.push_back(from_ball_plate(b));
  for (const auto& p : sheet.two_points) list.push_back(from_two_points(p));
  s.combined = combine(list);
  if (!s.combined.known) return s;
  s.correction = correction(s.combined, machine.span_m);
  if (sheet.attitude) {
    // Turning the bridge square changes its skew by move_a and b - a by as much the other way.
    const double square = sheet.attitude->b_minus_a_m - s.correction.move_a_m;
    const double half = std::hypot(s.correction.half_width_m, sheet.attitude->error_m * 1.96 / std::sqrt(3.0));
    s.b_minus_a_square_m = base::Estimate{square, square - half, square + half};
  }
  if (sheet.thermal) s.thermal = thermal_change(*sheet.thermal, machine.span_m, far_x(s, *sheet.thermal, machine));
  return s;
}

base::StationOutcome square_station(const Sheet& sheet, const machine::Machine& machine, const SquareInput& input) {
  base::StationOutcome out{.result = {.name = "square"}};
  if (is_empty(sheet)) {
    out.result.findings = {
        {.id = "square_unknown",
         .text = "Nothing is measured yet of the right angle between bridge and rails.",
         .next = "Fill in squareness.toml: both diagonals at two places along x, a reference square turned over, a "
                 "circle, or a laser table; and in [attitude] how both sides stood. Drives off and locked out while "
                 "hands are at the bridge."}};
    return out;
  }
  const Squareness s = work_out(sheet, machine);
  out.result.findings = square_findings(sheet, s, input, machine.span_m);
  put_values(s, machine.span_m, out.result);
  out.figures = square_figures(sheet, s, machine);
  out.result.verdict = base::overall(out.result.findings);
  return out;
}

}  // namespace evenbeam::squareness
