#include "machine/toml_reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include "base/check.h"
#include "machine/nearest_word.h"
#include "units/unit.h"

namespace evenbeam::machine {
namespace {

// Text of the file inside a message: short, on one line.
std::string shortened(std::string_view text) {
  constexpr size_t longest = 60;
  std::string shown;
  for (const char c : text.substr(0, longest)) shown += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? '?' : c;
  if (text.size() <= longest) return shown;
  while (!shown.empty() && (static_cast<unsigned char>(shown.back()) & 0xC0) == 0x80) shown.pop_back();  // cut letter
  if (!shown.empty() && static_cast<unsigned char>(shown.back()) >= 0x80) shown.pop_back();
  return shown + "...";
}

std::string shown_value(const toml::node& node) {
  if (const auto* text = node.as_string()) return fmt::format("\"{}\"", shortened(text->get()));
  if (const auto* number = node.as_integer()) return fmt::format("{}", number->get());
  if (const auto* number = node.as_floating_point()) return fmt::format("{}", number->get());
  if (const auto* yes = node.as_boolean()) return yes->get() ? "true" : "false";
  if (node.is_array()) return "[a list]";
  if (node.is_table()) return "{a table}";
  return "a date or time";
}

std::string joined(const std::vector<std::string_view>& words) {
  std::string text;
  for (size_t i = 0; i < words.size(); ++i)
    text += fmt::format("{}\"{}\"", i == 0 ? "" : i + 1 == words.size() ? " or " : ", ", words[i]);
  return text;
}

// The bounds in the unit of the example, since that is what the person will write.
std::string shown_range(std::string_view si_unit, Plausible range, std::string_view example) {
  const auto quantity = units::parse_quantity(example);
  base::check(quantity.has_value(), fmt::format("the example '{}' is a quantity", example));
  const double factor = quantity->unit.factor;
  const std::string unit = quantity->unit.symbol.empty() ? "" : " " + quantity->unit.symbol;
  if (si_unit == "1") return fmt::format("from {:g} to {:g}", range.low, range.high);
  return fmt::format("from {:g}{} to {:g}{}", range.low / factor, unit, range.high / factor, unit);
}

}  // namespace

toml::table parse_toml(const std::string& text, const std::string& file_name) {
  try {
    return toml::parse(std::string_view(text), std::string_view(file_name));
  } catch (const toml::parse_error& error) {
    throw base::InputError({.file = file_name,
                            .line = static_cast<long>(error.source().begin.line),
                            .column = static_cast<long>(error.source().begin.column),
                            .found = fmt::format("text that cannot be read ({})", shortened(error.description())),
                            .expected = "TOML: one 'key = value' a line, [table] headings",
                            .next = "Values with a unit stand in quotes: span = \"2.2 m\"."});
  }
}

void throw_if_any(std::vector<base::Trouble> troubles) {
  if (troubles.empty()) return;
  std::stable_sort(troubles.begin(), troubles.end(), [](const base::Trouble& a, const base::Trouble& b) {
    return std::tie(a.line, a.column) < std::tie(b.line, b.column);
  });
  throw base::InputError(std::move(troubles));
}

const toml::node* TableReader::ask(std::string_view key, std::string_view example) {
  asked_.push_back({std::string(key), std::string(example)});
  return table_.get(key);
}

std::string TableReader::right(std::string_view key) const {
  for (const Asked& asked : asked_)
    if (asked.key == key && !asked.example.empty()) return fmt::format("Right: {}.", asked.example);
  return {};
}

std::optional<double> TableReader::quantity(std::string_view key, std::string_view si_unit, Plausible range,
                                            std::string_view example) {
  const toml::node* node = ask(key, fmt::format("{} = \"{}\"", key, example));
  if (!node) return std::nullopt;
  const auto unit = units::find_unit(si_unit);
  base::check(unit.has_value(), fmt::format("'{}' is a unit", si_unit));
  const std::string wanted = units::describe(unit->dimension);
  const auto* text = node->as_string();
  if (!text) {
    refuse(key, wanted + ", with its unit and in quotes", right(key));
    return std::nullopt;
  }
  const auto quantity = units::parse_quantity(text->get());
  if (!quantity) {
    const bool comma = text->get().find(',') != std::string::npos;
    refuse(key, wanted + (comma ? "; the decimal sign is a point" : ""), right(key));
    return std::nullopt;
  }
  if (quantity->unit.dimension != unit->dimension) {
    refuse(key, wanted, right(key),
           fmt::format("{} = {}, {}", key, shown_value(*node), units::describe(quantity->unit.dimension)));
    return std::nullopt;
  }
  return within(key, quantity->value_si, si_unit, range, example);
}

std::optional<double> TableReader::within(std::string_view key, double value, std::string_view si_unit,
                                          Plausible range, std::string_view example) {
  if (value >= range.low && value <= range.high) return value;
  refuse(key, "a value " + shown_range(si_unit, range, example), right(key));
  return std::nullopt;
}

std::optional<double> TableReader::number(std::string_view key, Plausible range, std::string_view example) {
  const toml::node* node = ask(key, fmt::format("{} = {}", key, example));
  if (!node) return std::nullopt;
  if (const auto* value = node->as_integer())
    return within(key, static_cast<double>(value->get()), "1", range, example);
  if (const auto* value = node->as_floating_point()) return within(key, value->get(), "1", range, example);
  if (const auto* text = node->as_string()) {
    const auto quantity = units::parse_quantity(text->get());
    if (quantity && quantity->unit.dimension == units::Dimension{})
      return within(key, quantity->value_si, "1", range, example);
  }
  refuse(key, "a plain number", right(key));
  return std::nullopt;
}

std::optional<int> TableReader::whole_number(std::string_view key, Plausible range, std::string_view example) {
  const toml::node* node = ask(key, fmt::format("{} = {}", key, example));
  if (!node) return std::nullopt;
  const auto* value = node->as_integer();
  if (!value) {
    refuse(key, "a whole number, without quotes", right(key));
    return std::nullopt;
  }
  const auto number = within(key, static_cast<double>(value->get()), "1", range, example);
  return number ? std::optional(static_cast<int>(*number)) : std::nullopt;
}

std::optional<std::string> TableReader::text(std::string_view key, std::string_view example) {
  const toml::node* node = ask(key, fmt::format("{} = \"{}\"", key, example));
  if (!node) return std::nullopt;
  if (const auto* value = node->as_string()) return value->get();
  refuse(key, "text in quotes", right(key));
  return std::nullopt;
}

std::optional<std::vector<std::string>> TableReader::texts(std::string_view key, std::string_view example) {
  const toml::node* node = ask(key, fmt::format("{} = {}", key, example));
  if (!node) return std::nullopt;
  const auto* list = node->as_array();
  if (!list || !std::all_of(list->begin(), list->end(), [](const auto& one) { return one.is_string(); })) {
    refuse(key, "a list of texts, each in quotes", right(key));
    return std::nullopt;
  }
  std::vector<std::string> texts;
  for (const toml::node& one : *list) texts.push_back(one.as_string()->get());
  return texts;
}

std::optional<bool> TableReader::yes_no(std::string_view key) {
  const toml::node* node = ask(key, fmt::format("{} = true", key));
  if (!node) return std::nullopt;
  if (const auto* value = node->as_boolean()) return value->get();
  refuse(key, "true or false, without quotes", right(key));
  return std::nullopt;
}

std::optional<size_t> TableReader::choice_index(std::string_view key, const std::vector<std::string_view>& words) {
  const toml::node* node = ask(key, fmt::format("{} = \"{}\"", key, words.front()));
  if (!node) return std::nullopt;
  const auto* text = node->as_string();
  const auto at = text ? std::find(words.begin(), words.end(), text->get()) : words.end();
  if (at != words.end()) return static_cast<size_t>(at - words.begin());
  const auto near = text ? nearest_word(text->get(), {words.begin(), words.end()}) : std::nullopt;
  refuse(key, joined(words), near ? fmt::format("Did you mean {} = \"{}\"?", key, *near) : right(key));
  return std::nullopt;
}

std::optional<TableReader> TableReader::table(std::string_view key) {
  const std::string name = name_.empty() ? std::string(key) : fmt::format("{}.{}", name_, key);
  const toml::node* node = ask(key, fmt::format("[{}]", name));
  if (!node) return std::nullopt;
  if (const auto* inner = node->as_table()) return TableReader(*inner, name, file_name_, troubles_);
  refuse(key, fmt::format("a table with the heading [{}] and its keys below", name), right(key));
  return std::nullopt;
}

TableReader TableReader::table_or_empty(std::string_view key) {
  static const toml::table empty;
  if (auto there = table(key)) return *there;
  return TableReader(empty, name_.empty() ? std::string(key) : fmt::format("{}.{}", name_, key), file_name_,
                     troubles_);
}

std::vector<TableReader> TableReader::tables(std::string_view key) {
  const std::string name = name_.empty() ? std::string(key) : fmt::format("{}.{}", name_, key);
  const toml::node* node = ask(key, fmt::format("[[{}]]", name));
  if (!node) return {};
  std::vector<TableReader> readers;
  const auto* list = node->as_array();
  const bool all_tables =
      list && std::all_of(list->begin(), list->end(), [](const auto& one) { return one.is_table(); });
  if (!all_tables) {
    refuse(key, fmt::format("one [[{}]] heading for each, with two brackets, and its keys below", name), right(key));
    return {};
  }
  for (const toml::node& one : *list) readers.emplace_back(*one.as_table(), name, file_name_, troubles_);
  return readers;
}

std::vector<std::string> TableReader::keys() const {
  std::vector<std::pair<toml::source_position, std::string>> placed;
  for (const auto& [key, node] : table_) placed.emplace_back(key.source().begin, std::string(key.str()));
  std::sort(placed.begin(), placed.end());
  std::vector<std::string> names;
  for (auto& [place, name] : placed) names.push_back(std::move(name));
  return names;
}

void TableReader::refuse(std::string_view key, std::string expected, std::string next, std::string found) {
  const toml::node* node = table_.get(key);
  base::check(node != nullptr, fmt::format("'{}' is in the table", key));
  if (found.empty()) found = fmt::format("{} = {}", key, shown_value(*node));
  const toml::source_position at = node->source().begin;
  troubles_.push_back({file_name_, static_cast<long>(at.line), static_cast<long>(at.column), std::move(found),
                       std::move(expected), std::move(next)});
}

void TableReader::missing(std::string_view key, std::string expected, std::string_view example) {
  const long line = name_.empty() ? 0 : static_cast<long>(table_.source().begin.line);
  const std::string where = name_.empty() ? "" : fmt::format(" in [{}]", name_);
  troubles_.push_back({file_name_, line, 0, fmt::format("no '{}'{}", key, where), std::move(expected),
                       fmt::format("Add {} = {}.", key, example)});
}

bool TableReader::asked_for(std::string_view key) const {
  return std::any_of(asked_.begin(), asked_.end(), [&](const Asked& asked) { return asked.key == key; });
}

void TableReader::close(const std::vector<const TableReader*>& elsewhere) {
  std::vector<std::string> known;
  std::string all;
  for (const Asked& asked : asked_) {
    known.push_back(asked.key);
    all += (all.empty() ? "" : ", ") + asked.key;
  }
  for (const auto& [key, node] : table_) {
    if (asked_for(key.str())) continue;
    std::string expected = "one of " + all, next = "Take the line out, or put # before it.";
    const auto home = std::find_if(elsewhere.begin(), elsewhere.end(),
                                   [&](const TableReader* other) { return other->asked_for(key.str()); });
    if (home != elsewhere.end()) {
      const bool top = (*home)->name_.empty();
      expected = top ? "it at the top of the file" : fmt::format("it in [{}]", (*home)->name_);
      next =
          top ? "Move the line above the first [heading]." : fmt::format("Move the line below [{}].", (*home)->name_);
    } else if (const auto near = nearest_word(key.str(), known)) {
      expected = fmt::format("'{}' perhaps", *near);
      next = right(*near);
    }
    const std::string where = name_.empty() ? "at the top of the file" : fmt::format("in [{}]", name_);
    const toml::source_position at = key.source().begin;
    troubles_.push_back({file_name_, static_cast<long>(at.line), static_cast<long>(at.column),
                         fmt::format("unknown key '{}' {}", shortened(key.str()), where), std::move(expected),
                         std::move(next)});
  }
}

void TableReader::require_format(std::string_view wanted) {
  const bool there = has("format");
  const auto format = text("format", wanted);
  if (!there || format == wanted) return;
  if (format)
    refuse("format", fmt::format("\"{}\", the only one this program reads", wanted),
           "Use the program version that wrote the file, or write the file anew by docs/formats.md.");
  throw_if_any(troubles_);
}

}  // namespace evenbeam::machine
