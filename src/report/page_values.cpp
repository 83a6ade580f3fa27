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
  return numbers.empty() ? "none" : with_unit(out, unit);
}

std::string interval_text(const base::Value& v, double value, const ShownUnit& unit) {
  if (!v.lower || !v.upper) return "";
  std::string out =
      shown_number(*v.lower, unit, v.lower, v.upper) + " to " + shown_number(*v.upper, unit, v.lower, v.upper);
  if (std::abs(v.level - 0.95) > 1e-9) out += fmt::format(" ({:.3g} %)", 100 * v.level);
  static_cast<void>(value);
  return out;
}

std::vector<std::string> value_row(const std::string& key, const base::Value& v, const PersonUnits& units,
                                   const Words& words) {
  const ShownUnit unit = shown_unit(v.unit, units);
  std::string text = std::string(words.unknown), interval;
  if (const auto* number = std::get_if<double>(&v.value)) {
    text = with_unit(shown_number(*number, unit, v.lower, v.upper), unit);
    interval = interval_text(v, *number, unit);
  } else if (const auto* words_value = std::get_if<std::string>(&v.value)) {
    text = *words_value;
  } else if (const auto* list = std::get_if<std::vector<double>>(&v.value)) {
    text = list_text(*list, unit, words);
  }
  return {escape(key_in_words(key)), escape(text), escape(interval), text_element("code", key)};
}

std::string cell_text(const std::string& key, const base::Cell& cell, const PersonUnits& units) {
  if (const auto* text = std::get_if<std::string>(&cell)) return *text;
  return shown_number(std::get<double>(cell), shown_unit(key_unit(key), units));
}

std::string rows_table(const std::string& key, const std::vector<base::Row>& rows, const PersonUnits& units,
                       const Words& words) {
  if (rows.empty()) return "";
  std::vector<std::string> heads;
  std::vector<Column> columns;
  for (const auto& [name, cell] : rows[0]) {
    const std::string symbol = shown_unit(key_unit(name), units).symbol;
    heads.push_back(key_in_words(name) + (symbol.empty() ? "" : ", " + symbol));
  }
  for (size_t i = 0; i < heads.size(); ++i)
    columns.push_back({heads[i], std::holds_alternative<double>(rows[0][i].second)});
  std::vector<std::vector<std::string>> body;
  for (size_t i = 0; i < std::min(rows.size(), most_rows); ++i) {
    std::vector<std::string> cells;
    for (const auto& [name, unused] : rows[0]) {  // a row that lacks a column shows it empty
      const auto it =
          std::find_if(rows[i].begin(), rows[i].end(), [&, &n = name](const auto& c) { return c.first == n; });
      cells.push_back(it == rows[i].end() ? "" : escape(cell_text(name, it->second, units)));
    }
    body.push_back(std::move(cells));
  }
  std::string out =
      element("h4", escape(key_in_words(key)) + " " + text_element("code", key)) + table(columns, body, "rows");
  if (rows.size() > most_rows)
    out += text_element("p", fmt::format("… {} {}", rows.size() - most_rows, words.more_rows), "class=\"small\"");
  return element("div", out, "class=\"keep\"") + "\n";
}

}  // namespace

std::string value_tables(const base::StationResult& station, const PersonUnits& units, const Words& words) {
  std::vector<std::vector<std::string>> body;
  std::string lists;
  for (const auto& [key, value] : station.values) {
    if (const auto* rows = std::get_if<std::vector<base::Row>>(&value.value))
      lists += rows_table(key, *rows, units, words);
    else
      body.push_back(value_row(key, value, units, words));
  }
  std::string out;
  if (!body.empty())
    out = table({{words.number}, {words.value, true}, {words.interval, true}, {words.key}}, body, "values");
  return out + lists;
}

}  // namespace evenbeam::report
