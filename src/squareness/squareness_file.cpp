#include "squareness/squareness_file.h"

#include <fmt/format.h>

#include <cmath>

#include "squareness/sheet_methods.h"

namespace evenbeam::squareness {
namespace {

using machine::Plausible;
using machine::TableReader;

constexpr double largest_rad = 0.02;  // beyond a degree nobody measures squareness: a unit or a reading is wrong

std::optional<Attitude> read_attitude(TableReader& root) {
  auto t = root.table("attitude");
  if (!t) return std::nullopt;
  const double a = needed(*t, "position_a", "m", place, "700.000 mm");
  const double b = needed(*t, "position_b", "m", place, "700.000 mm");
  const double offset_a = needed(*t, "home_offset_a", "m", place, "0 mm");
  const double offset_b = needed(*t, "home_offset_b", "m", place, "-2.12 mm");
  const double error = needed(*t, "error", "m", {1e-9, 1e-2}, "2 um");
  t->close();
  return Attitude{(b - offset_b) - (a - offset_a), error};
}

std::optional<Thermal> read_thermal(TableReader& root) {
  auto t = root.table("thermal");
  if (!t) return std::nullopt;
  Thermal out;
  constexpr Plausible expansion{-5e-6, 40e-6}, warming{-60, 60};
  const auto both = t->quantity("expansion", "1/K", expansion, "11.5 ppm/K");
  out.one_material = t->has("expansion");
  if (out.one_material) {
    out.expansion_a_per_k = out.expansion_b_per_k = both.value_or(0);
  } else {
    out.expansion_a_per_k = needed(*t, "expansion_a", "1/K", expansion, "11.5 ppm/K");
    out.expansion_b_per_k = needed(*t, "expansion_b", "1/K", expansion, "8 ppm/K");
  }
  out.expansion_error_per_k = needed(*t, "expansion_error", "1/K", {0, 1e-5}, "1 ppm/K");
  out.warming_a_k = needed(*t, "warming_a", "K", warming, "4 K");
  out.warming_b_k = needed(*t, "warming_b", "K", warming, "1.5 K");
  out.warming_error_k = needed(*t, "warming_error", "K", {0, 20}, "0.5 K");
  out.fixed_x_m = t->quantity("fixed_x", "m", place, "0 mm").value_or(0);
  t->close();
  return out;
}

// All tables of one method. What cannot be judged (a trouble was found in it) is left out; the troubles speak.
template <class One, class Read>
void read_all(TableReader& root, const char* key, std::vector<One>& list, const SheetReader& reader,
              std::vector<base::Trouble>& troubles, Read read) {
  std::vector<TableReader> tables = root.tables(key);
  for (std::size_t i = 0; i < tables.size(); ++i) {
    const std::size_t before = troubles.size();
    One one = read(tables[i], i, reader);
    tables[i].close();
    if (troubles.size() == before) list.push_back(std::move(one));
  }
}

void judge_size(const Observation& o, const std::string& file, std::vector<base::Trouble>& troubles) {
  if (std::isfinite(o.value_rad) && std::abs(o.value_rad) <= largest_rad) return;
  troubles.push_back({.file = file,
                      .found = fmt::format("{} says out of square by {:.3g} mrad", o.name, o.value_rad * 1e3),
                      .expected = fmt::format("less than {:g} mrad", largest_rad * 1e3),
                      .next = "Check units and signs of its readings, and which end was which."});
}

void judge_sizes(const Sheet& sheet, std::vector<base::Trouble>& troubles) {
  for (const auto& d : sheet.diagonals) judge_size(from_diagonals(d), sheet.file, troubles);
  for (const auto& r : sheet.reference_squares) judge_size(from_reference_square(r), sheet.file, troubles);
  for (const auto& c : sheet.circles) judge_size(from_circle(c).observation, sheet.file, troubles);
  for (const auto& p : sheet.two_points) judge_size(from_two_points(p), sheet.file, troubles);
  for (const auto& b : sheet.ball_plates) judge_size(from_ball_plate(b), sheet.file, troubles);
  for (const auto& a : sheet.angle_tables)
    for (const Observation& o : from_angle_table(a)) judge_size(o, sheet.file, troubles);
}

}  // namespace

bool is_empty(const Sheet& s) {
  return s.diagonals.empty() && s.reference_squares.empty() && s.circles.empty() && s.angle_tables.empty() &&
         s.ball_plates.empty() && s.two_points.empty();
}

Sheet read_sheet(const std::string& text, const std::string& file_name, double span_m, const ReadNamed& read) {
  const toml::table root = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader t(root, "", file_name, troubles);
  const SheetReader reader{span_m, read};
  Sheet sheet{.file = file_name};
  t.require_format("evenbeam.squareness/1");
  sheet.wanted_rad = t.quantity("wanted", "rad", {1e-7, 1e-2}, "40 urad");
  read_all(t, "diagonals", sheet.diagonals, reader, troubles, read_diagonals);
  read_all(t, "reference_square", sheet.reference_squares, reader, troubles, read_reference_square);
  read_all(t, "circle", sheet.circles, reader, troubles, read_circle_run);
  read_all(t, "angle_table", sheet.angle_tables, reader, troubles, read_angle_table);
  read_all(t, "ball_plate", sheet.ball_plates, reader, troubles, read_ball_plate);
  read_all(t, "two_points", sheet.two_points, reader, troubles, read_two_points);
  sheet.attitude = read_attitude(t);
  sheet.thermal = read_thermal(t);
  t.close();
  if (troubles.empty()) judge_sizes(sheet, troubles);
  machine::throw_if_any(std::move(troubles));
  return sheet;
}

}  // namespace evenbeam::squareness
