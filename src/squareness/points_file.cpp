#include "squareness/points_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "base/input_error.h"
#include "recording/table.h"
#include "recording/words.h"
#include "units/unit.h"

namespace evenbeam::squareness {
namespace {

struct Named {
  std::string name;
  std::optional<std::string> unit;
};

std::vector<Named> header_of(const recording::Table& table) {
  std::vector<Named> out;
  for (size_t i = 0; i < table.layout.names.size(); ++i) {
    const recording::NameParts parts = recording::take_apart(table.layout.names[i]);
    Named named{.name = fmt::format("{}", fmt::join(parts.words, "_")), .unit = parts.unit};
    if (!named.unit && i < table.layout.unit_row.size()) named.unit = recording::unit_word(table.layout.unit_row[i]);
    out.push_back(std::move(named));
  }
  return out;
}

std::string example_of(const WantedColumn& column) {
  return fmt::format("{} {}", column.name, column.si_unit == "rad" ? "deg" : "mm");
}

std::string example_of(const std::vector<WantedColumn>& wanted) {
  std::string header;
  for (const WantedColumn& column : wanted) header += (header.empty() ? "" : ", ") + example_of(column);
  return header;
}

const Named* find(const std::vector<Named>& header, std::string_view name) {
  const auto at = std::find_if(header.begin(), header.end(), [&](const Named& n) { return n.name == name; });
  return at != header.end() ? &*at : nullptr;
}

}  // namespace

std::vector<std::vector<double>> read_columns(const std::string& bytes, const std::string& file,
                                              const std::vector<WantedColumn>& wanted) {
  const recording::Table table = recording::read_table(bytes, file);
  const std::vector<Named> header = header_of(table);
  const std::string next = fmt::format("Head the columns with name and unit: {}.", example_of(wanted));
  std::vector<base::Trouble> troubles;
  std::vector<std::vector<double>> out;
  for (const WantedColumn& column : wanted) {
    const Named* named = find(header, column.name);
    const auto unit = named != nullptr && named->unit ? units::find_unit(*named->unit) : std::nullopt;
    const auto si = units::find_unit(column.si_unit);
    if (!unit || unit->dimension != si->dimension) {
      const std::string found = named == nullptr ? fmt::format("no column '{}'", column.name)
                                : !named->unit   ? fmt::format("column '{}' without a unit", column.name)
                                                 : fmt::format("column '{}' in {}", column.name, *named->unit);
      troubles.push_back({.file = file,
                          .line = table.layout.header_line,
                          .found = found,
                          .expected = units::describe(si->dimension),
                          .next = next});
      continue;
    }
    std::vector<double> values = table.columns[static_cast<size_t>(named - header.data())];
    for (size_t row = 0; row < values.size(); ++row) {
      if (!std::isfinite(values[row]))
        troubles.push_back({.file = file,
                            .line = recording::line_of_row(table, row),
                            .found = fmt::format("no value in column '{}'", column.name),
                            .expected = "a number in every row",
                            .next = "Take the row out where it was not measured."});
      values[row] = values[row] * unit->factor + unit->offset;
      if (troubles.size() >= 8) throw base::InputError(std::move(troubles));
    }
    out.push_back(std::move(values));
  }
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
  return out;
}

std::vector<Point> read_circle(const std::string& bytes, const std::string& file, double radius_m) {
  const std::vector<Named> header = header_of(recording::read_table(bytes, file));
  std::vector<Point> points;
  if (find(header, "angle") == nullptr) {
    const auto columns = read_columns(bytes, file, {{"x", "m"}, {"y", "m"}});
    for (size_t i = 0; i < columns[0].size(); ++i) points.push_back({columns[0][i], columns[1][i]});
    return points;
  }
  const bool whole = find(header, "radius") != nullptr;
  const auto columns = read_columns(bytes, file, {{"angle", "rad"}, {whole ? "radius" : "deviation", "m"}});
  for (size_t i = 0; i < columns[0].size(); ++i) {
    const double radius = columns[1][i] + (whole ? 0 : radius_m);
    points.push_back({radius * std::cos(columns[0][i]), radius * std::sin(columns[0][i])});
  }
  return points;
}

}  // namespace evenbeam::squareness
