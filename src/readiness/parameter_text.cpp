#include "readiness/parameter_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <map>
#include <set>
#include <string_view>

#include "base/input_error.h"
#include "readiness/parameter_number.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using Cells = std::vector<std::string>;

std::string trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\xa0'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return std::string(text);
}

std::string unquoted(const std::string& cell) {
  const std::string text = trimmed(cell);
  if (text.size() < 2 || text.front() != '"' || text.back() != '"') return text;
  return trimmed(std::string_view(text).substr(1, text.size() - 2));
}

// The line without a remark behind its value; empty where all of it is one.
std::string without_remark(const std::string& line) {
  const std::string text = trimmed(line);
  for (const std::string_view mark : {"#", "//", ";", "!", "*", "--", "'"})
    if (text.starts_with(mark)) return "";
  std::size_t end = text.size();
  bool quoted = false;
  for (std::size_t i = 0; i + 1 < text.size(); ++i) {
    if (text[i] == '"') quoted = !quoted;
    const bool after_blank = text[i] == ' ' || text[i] == '\t';
    if (!quoted && after_blank && (text[i + 1] == '#' || text.compare(i + 1, 2, "//") == 0)) {
      end = i;
      break;
    }
  }
  return trimmed(std::string_view(text).substr(0, end));
}

// Cells at every separator outside quotes; with '=' or ':' only at the first.
Cells cells_of(const std::string& line, char separator) {
  Cells cells(1);
  bool quoted = false;
  const bool once = separator == '=' || separator == ':' || separator == ' ';
  for (const char c : line) {
    if (c == '"') quoted = !quoted;
    const bool here = c == separator || (separator == ' ' && c == '\t');
    if (here && !quoted && !(once && cells.size() > 1))
      cells.emplace_back();
    else
      cells.back() += c;
  }
  for (std::string& cell : cells) cell = unquoted(cell);
  return cells;
}

struct Line {
  long number;
  std::string text, section;
};

// The separator that makes a pair of most lines; of equals the first named. Blanks only where no other makes pairs of
// half the lines: words of a remark are parted by them too.
char separator_of(const std::vector<Line>& lines) {
  char best = '=';
  std::size_t most = 0;
  for (const char separator : {'=', ';', '\t', ':', ',', ' '}) {
    const auto pairs = static_cast<std::size_t>(std::count_if(lines.begin(), lines.end(), [&](const Line& line) {
      const Cells cells = cells_of(line.text, separator);
      return cells.size() > 1 && !cells[0].empty();
    }));
    if (separator == ' ' && 2 * most >= lines.size()) continue;
    if (pairs > most) best = separator, most = pairs;
  }
  return best;
}

struct Columns {
  std::size_t name = 0, value = 1;
  std::optional<std::size_t> unit = 2, sub = std::nullopt;  // sub: lists of objects number parts of one index
};

// Where the first row is a heading, its words say which column is which.
std::optional<Columns> heading(const Cells& cells) {
  const auto find = [&](std::initializer_list<std::string_view> words) -> std::optional<std::size_t> {
    for (const std::string_view word : words)
      for (std::size_t i = 0; i < cells.size(); ++i)
        if (lowered(cells[i]) == word) return i;
    return std::nullopt;
  };
  const auto name = find({"name", "parameter", "key", "symbol", "id", "index", "number", "code"});
  const auto value = find({"value", "actual value", "setting", "data", "content"});
  if (!name || !value || *name == *value) return std::nullopt;
  return Columns{*name, *value, find({"unit", "units"}), find({"subindex", "sub-index", "sub index", "sub"})};
}

std::vector<Line> lines_of(const std::string& text) {
  std::vector<Line> lines;
  std::string section;
  long number = 0;
  std::size_t at = text.starts_with("\xef\xbb\xbf") ? 3 : 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    ++number;
    const std::string line = without_remark(text.substr(at, end - at));
    at = end + 1;
    if (line.empty()) continue;
    if (line.front() == '[' && line.back() == ']')
      section = trimmed(std::string_view(line).substr(1, line.size() - 2));
    else
      lines.push_back({number, line, section});
  }
  return lines;
}

// "12.5 Hz": a unit behind the number.
void split_unit(Parameter& p) {
  const std::size_t blank = p.value.find_last_of(" \t");
  if (!p.unit.empty() || blank == std::string::npos) return;
  const std::string unit = trimmed(p.value.substr(blank + 1)), number = trimmed(p.value.substr(0, blank));
  if (unit.empty() || std::isdigit(static_cast<unsigned char>(unit[0])) || !looks_like_number(number)) return;
  p.unit = unit;
  p.value = number;
}

void read_numbers(ParameterText& out) {
  std::vector<std::string> values;
  for (const Parameter& p : out.parameters) values.push_back(p.value);
  const DecimalSign sign = decimal_sign_of(values);
  out.decimal_comma = sign == DecimalSign::comma;
  for (Parameter& p : out.parameters) {
    const ReadNumber read = read_number(p.value, sign);
    if (read.doubtful)
      out.doubtful.push_back(fmt::format("line {}: {} = '{}' {}", p.line, p.name, p.value, read.words));
    if (!read.value) continue;
    const auto unit = units::find_unit(p.unit);
    const bool known = !p.unit.empty() && unit.has_value();
    p.number = known ? *read.value * unit->factor + unit->offset : *read.value;
    p.si_unit = known ? p.unit : "";
  }
}

// The same name twice: by its section, where sections tell the two apart; else refused unless the values agree.
void settle_names(ParameterText& out, const std::vector<std::string>& sections) {
  std::map<std::string, std::string> seen;
  bool twice = false;
  for (const Parameter& p : out.parameters) twice = twice || !seen.emplace(lowered(p.name), p.value).second;
  if (!twice) return;
  std::vector<base::Trouble> troubles;
  seen.clear();
  for (std::size_t i = 0; i < out.parameters.size(); ++i) {
    Parameter& p = out.parameters[i];
    if (!sections[i].empty()) p.name = sections[i] + "." + p.name;
    const auto [before, fresh] = seen.emplace(lowered(p.name), p.value);
    if (fresh || before->second == p.value) continue;
    troubles.push_back({.file = out.file,
                        .line = p.line,
                        .found = fmt::format("{} = {}, and {} before", p.name, p.value, before->second),
                        .expected = "each name once, or the same value again",
                        .next = "Export one axis a file, or put [headings] between the axes."});
  }
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
}

}  // namespace

ParameterText read_parameter_text(const std::string& text, const std::string& file_name) {
  if (text.find('\0') != std::string::npos)
    throw base::InputError({.file = file_name,
                            .found = "NUL bytes: a binary file, or text in UTF-16",
                            .expected = "text in UTF-8 or Latin-1, a name and a value a line",
                            .next = "Export or save it as plain text in UTF-8."});
  ParameterText out{.file = file_name};
  const std::vector<Line> lines = lines_of(text);
  const char separator = separator_of(lines);
  Columns columns;
  std::vector<std::string> sections;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const Cells cells = cells_of(lines[i].text, separator);
    if (i == 0)
      if (const auto named = heading(cells)) {
        columns = *named;
        continue;
      }
    if (cells.size() <= std::max(columns.name, columns.value) || cells[columns.name].empty()) {
      out.unread.push_back(fmt::format("line {}: '{}'", lines[i].number, lines[i].text));
      continue;
    }
    Parameter p{.name = cells[columns.name], .value = cells[columns.value], .line = lines[i].number};
    if (columns.sub && *columns.sub < cells.size()) p.name += ":" + cells[*columns.sub];
    if (columns.unit && *columns.unit < cells.size()) p.unit = cells[*columns.unit];
    split_unit(p);
    out.parameters.push_back(std::move(p));
    sections.push_back(lines[i].section);
  }
  if (out.parameters.empty())
    throw base::InputError({.file = file_name,
                            .found = fmt::format("{} lines, none with a name and a value", lines.size()),
                            .expected = "a name and a value a line, with = : ; , or a tab between",
                            .next = "Export the drive's parameters as text."});
  settle_names(out, sections);
  read_numbers(out);
  return out;
}

}  // namespace evenbeam::readiness
