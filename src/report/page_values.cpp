// A station's values as tables: numbers with interval and key, then each list of rows as a table of its own.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/html.h"
#include "report/page.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

constexpr size_t most_rows = 30, most_numbers = 12;

std::string list_text(const std::vector<double>& numbers, const ShownUnit& unit, const Words& words) {
  std::string out;
  for (size_t i = 0; i < std::min(numbers.size(), most_numbers); ++i)
    out += (i ? ", " : "") + shown_number(numbers[i], unit);
  if (numbers.size() > most_numbers) out += fmt::format(" … ({} {})", numbers.size() - most_numbers, words.more_rows);
  return numbers.empty() ? std::string(words.none) : with_unit(out, unit);
}

std::string interval_text(const base::Value& v, const ShownUnit& unit, const Words& words) {
  if (!v.lower || !v.upper) return "";
  std::string out = fmt::format("{} {} {}", shown_number(*v.lower, unit, v.lower, v.upper), words.to,
                                shown_number(*v.upper, unit, v.lower, v.upper));
  if (std::abs(v.level - 0.95) > 1e-9) out += fmt::format(" ({:.3g} %)", 100 * v.level);
  return out;
}

std::vector<std::string> value_row(const std::string& key, const base::Value& v, const PersonUnits& units,
                                   const std::string& method, const Words& words) {
  const ShownUnit unit = shown_unit(v.unit, units);
  std::string text = std::string(words.unknown), interval;
  if (const auto* number = std::get_if<double>(&v.value)) {
    text = with_unit(shown_number(*number, unit, v.lower, v.upper), unit);
    interval = interval_text(v, unit, words);
  } else if (const auto* words_value = std::get_if<std::string>(&v.value)) {
    text = *words_value;
  } else if (const auto* list = std::get_if<std::vector<double>>(&v.value)) {
    text = list_text(*list, unit, words);
  }
  return {escape(key_in_words(key)), escape(text), escape(interval), escape(method), text_element("code", key)};
}

std::string cell_text(const base::Cell& cell, const ShownUnit& unit) {
  if (const auto* text = std::get_if<std::string>(&cell)) return *text;
  return shown_number(std::get<double>(cell), unit);
}

// One column of a list of rows: its head in the person's unit, and how to find it.
struct RowsColumn {
  std::string name, head;
  ShownUnit unit;
  bool number = false;
};

// "lower" and "upper" carry no unit of their own: they belong to the value before them.
std::vector<RowsColumn> columns_of(const base::Row& row, const PersonUnits& units) {
  std::vector<RowsColumn> out;
  ShownUnit before = shown_unit("", units);
  for (const auto& [name, cell] : row) {
    const bool bound = name == "lower" || name == "upper";
    const ShownUnit unit = bound ? before : shown_unit(key_unit(name), units);
    if (!bound) before = unit;
    const std::string head = key_in_words(name) + (unit.symbol.empty() ? "" : ", " + unit.symbol);
    out.push_back({name, head, unit, std::holds_alternative<double>(cell)});
  }
  return out;
}

// A row that lacks a column shows it empty.
std::string cell_of(const base::Row& row, const RowsColumn& column) {
  const auto it = std::find_if(row.begin(), row.end(), [&](const auto& c) { return c.first == column.name; });
  return it == row.end() ? "" : cell_text(it->second, column.unit);
}

// More columns than fit on paper: the table lies down, one line a quantity, one column a row.
constexpr size_t most_columns = 9, most_lying = 6;

std::string lying_table(const std::vector<RowsColumn>& quantities, const std::vector<base::Row>& rows) {
  std::string out;
  for (size_t first = 0; first < rows.size(); first += most_lying) {
    const size_t last = std::min(first + most_lying, rows.size());
    std::vector<std::string> heads;
    for (size_t i = first; i < last; ++i) heads.push_back(cell_of(rows[i], quantities[0]));
    std::vector<Column> columns{{quantities[0].head, false}};
    for (const std::string& head : heads) columns.push_back({head, true});
    std::vector<std::vector<std::string>> body;
    for (size_t q = 1; q < quantities.size(); ++q) {
      std::vector<std::string> line{escape(quantities[q].head)};
      for (size_t i = first; i < last; ++i) line.push_back(escape(cell_of(rows[i], quantities[q])));
      body.push_back(std::move(line));
    }
    out += table(columns, body, "rows");
  }
  return out;
}

std::string standing_table(const std::vector<RowsColumn>& quantities, const std::vector<base::Row>& rows) {
  std::vector<Column> columns;
  for (const RowsColumn& q : quantities) columns.push_back({q.head, q.number});
  std::vector<std::vector<std::string>> body;
  for (const base::Row& row : rows) {
    std::vector<std::string> cells;
    for (const RowsColumn& q : quantities) cells.push_back(escape(cell_of(row, q)));
    body.push_back(std::move(cells));
  }
  return table(columns, body, "rows");
}

std::string rows_table(const std::string& key, const std::vector<base::Row>& rows, const PersonUnits& units,
                       const Words& words) {
  if (rows.empty()) return "";
  const std::vector<RowsColumn> quantities = columns_of(rows[0], units);
  const std::vector<base::Row> shown(rows.begin(),
                                     rows.begin() + static_cast<long>(std::min(rows.size(), most_rows)));
  std::string out =
      element("h4", escape(key_in_words(key)) + " " + text_element("code", key)) +
      (quantities.size() > most_columns ? lying_table(quantities, shown) : standing_table(quantities, shown));
  if (rows.size() > most_rows)
    out += text_element("p", fmt::format("… {} {}", rows.size() - most_rows, words.more_rows), "class=\"small\"");
  return element("div", out, "class=\"keep\"") + "\n";
}

}  // namespace

std::string value_tables(const base::StationResult& station, const ReportInput& input, const Words& words) {
  const PersonUnits units = person_units(input);
  std::vector<std::vector<std::string>> body;
  std::string lists;
  for (const auto& [key, value] : station.values) {
    if (const auto* rows = std::get_if<std::vector<base::Row>>(&value.value)) {
      lists += rows_table(key, *rows, units, words);
      continue;
    }
    const auto method = input.methods.find(station.name + "." + key);
    body.push_back(value_row(key, value, units, method != input.methods.end() ? method->second : "", words));
  }
  std::string out;
  if (!body.empty())
    out = table({{words.number}, {words.value, true}, {words.interval, true}, {words.how_sure}, {words.key}}, body,
                "values");
  return out + lists;
}

}  // namespace evenbeam::report
