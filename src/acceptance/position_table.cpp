#include "acceptance/position_table.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>
#include <map>

#include "base/input_error.h"
#include "recording/layout.h"
#include "recording/number.h"
#include "recording/words.h"
#include "units/unit.h"

namespace evenbeam::acceptance {

namespace {

constexpr std::size_t most_troubles = 8;

struct TextLine {
  long number = 0;  // 1-based
  std::string_view text;
};

struct Header {
  int target = -1, value = -1, direction = -1, run = -1;  // columns of the long form
  bool readings = false;
  std::vector<int> sense;  // of the wide form: +1 rising, -1 falling, 0 no run
  double target_unit_m = 0, value_unit_m = 0;
};

struct Reader {
  std::string file;
  char separator = ',', decimal_sign = '.';
  std::vector<base::Trouble> troubles;

  void trouble(long line, std::string found, std::string expected, std::string next) {
    if (troubles.size() < most_troubles)
      troubles.push_back({.file = file,
                          .line = line,
                          .found = std::move(found),
                          .expected = std::move(expected),
                          .next = std::move(next)});
  }
  [[noreturn]] void give_up(long line, std::string found, std::string expected, std::string next) {
    throw base::InputError({.file = file,
                            .line = line,
                            .found = std::move(found),
                            .expected = std::move(expected),
                            .next = std::move(next)});
  }
  void throw_troubles() const {
    if (!troubles.empty()) throw base::InputError(troubles);
  }
};

std::vector<TextLine> lines_of(std::string_view text) {
  if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
  std::vector<TextLine> out;
  long number = 0;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    std::string_view line = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    ++number;
    while (!line.empty() && std::isspace(static_cast<unsigned char>(line.back()))) line.remove_suffix(1);
    const std::size_t first = line.find_first_not_of(" \t");
    if (first == std::string_view::npos || line[first] == '#') continue;
    out.push_back({number, line});
  }
  return out;
}

// Told by the second line: it is data in every form, and a last line cut off does not matter.
void find_separators(const std::vector<TextLine>& lines, Reader& reader) {
  const std::string_view first_row = lines[1].text;
  const auto has = [&](char c) { return first_row.find(c) != std::string_view::npos; };
  reader.separator = has(';')                ? ';'
                     : has('\t')             ? '\t'
                     : has(',') && !has(' ') ? ','
                     : has(',') && has('.')  ? ','
                                             : ' ';
  if (reader.separator == ' ' && first_row.find(", ") != std::string_view::npos) reader.separator = ',';
  reader.decimal_sign = reader.separator != ',' && has(',') ? ',' : '.';
}

// Words of a header cell: letters, signs and arrows; blanks, quotes, brackets, _ and / part them.
std::vector<std::string> words_of(const std::string& cell) {
  std::vector<std::string> out(1);
  for (const char c : cell) {
    if (std::string_view(" \"_[](){}/:,").find(c) != std::string_view::npos) {
      if (!out.back().empty()) out.emplace_back();
    } else {
      out.back() += c;
    }
  }
  if (out.back().empty()) out.pop_back();
  return out;
}

bool any_of(const std::vector<std::string>& words, std::initializer_list<std::string_view> wanted) {
  return std::any_of(words.begin(), words.end(), [&](const std::string& word) {
    return std::find(wanted.begin(), wanted.end(), word) != wanted.end();
  });
}

int direction_of(const std::vector<std::string>& words) {
  if (any_of(words, {"up", "+", "rising", "positive", "pos", "forward", "\xE2\x86\x91", "+1"})) return 1;
  if (any_of(words, {"down", "-", "falling", "negative", "neg", "backward", "\xE2\x86\x93", "-1"})) return -1;
  for (const std::string& word : words)  // "1+", "run2-", "3↑"
    if (word.size() > 1) {
      if (word.ends_with('+') || word.ends_with("\xE2\x86\x91")) return 1;
      if (word.ends_with('-') || word.ends_with("\xE2\x86\x93")) return -1;
    }
  return 0;
}

// Metres per unit where one of the words is a length; 0 where none is.
double length_unit_in(const std::vector<std::string>& words) {
  for (const std::string& word : words) {
    const auto unit = units::find_unit(word);
    if (unit && unit->dimension == units::Dimension{.length = 1}) return unit->factor;
  }
  return 0;
}

void take_unit(double& into_m, const std::vector<std::string>& words) {
  if (const double unit = length_unit_in(words); unit > 0) into_m = unit;
}

Header header_of(const TextLine& line, const TableForm& form, Reader& reader) {
  Header header;
  const auto cells = recording::split_cells(line.text, reader.separator);
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const std::vector<std::string> words = words_of(recording::lower_case(cells[i]));
    header.sense.push_back(0);
    if (header.target < 0 && any_of(words, {"target", "nominal", "position", "commanded"})) {
      header.target = int(i);
      take_unit(header.target_unit_m, words);
    } else if (any_of(words, {"deviation", "error", "reading", "actual", "measured"}) && direction_of(words) == 0) {
      header.value = int(i);
      header.readings = any_of(words, {"reading", "actual", "measured"});
      take_unit(header.value_unit_m, words);
    } else if (any_of(words, {"direction", "approach"})) {
      header.direction = int(i);
    } else if (const int sense = direction_of(words); sense != 0) {
      header.sense.back() = sense;
      take_unit(header.value_unit_m, words);
    } else if (any_of(words, {"run", "cycle"})) {
      header.run = int(i);
    }
  }
  if (form.target_unit_m) header.target_unit_m = *form.target_unit_m;
  if (form.value_unit_m) header.value_unit_m = *form.value_unit_m;
  if (form.readings) header.readings = *form.readings;
  return header;
}

void check_header(const Header& header, const TextLine& line, Reader& reader) {
  const bool wide = header.value < 0;
  const bool any_run = std::any_of(header.sense.begin(), header.sense.end(), [](int s) { return s != 0; });
  if (header.target < 0 || (wide && !any_run))
    reader.give_up(
        line.number, fmt::format("\"{}\"", line.text),
        "a header with a target column and either a deviation or reading column or one column for each "
        "run and direction",
        "Right: \"target mm; run; direction; deviation um\" or \"target mm; 1 up; 1 down; 2 up; 2 down\".");
  if (header.target_unit_m <= 0)
    reader.give_up(line.number, "no unit for the targets", "a length unit in the header, or target_unit stated",
                   "Right: \"target mm\", or target_unit = \"mm\" in positioning.toml.");
  if (header.value_unit_m <= 0)
    reader.give_up(line.number, "no unit for the deviations", "a length unit in the header, or value_unit stated",
                   "Right: \"deviation um\", or value_unit = \"um\" in positioning.toml.");
}

// Deviations gathered by target: targets within a millionth of the unit are the same.
struct Gathered {
  std::map<long long, TargetRuns> targets;
  void add(double target_m, double deviation_m, int sense) {
    TargetRuns& runs =
        targets.try_emplace(std::llround(target_m * 1e9), TargetRuns{.target_m = target_m}).first->second;
    (sense > 0 ? runs.up_m : runs.down_m).push_back(deviation_m);
  }
};

std::optional<double> number_at(const std::vector<std::string_view>& cells, int column, const TextLine& line,
                                Reader& reader, bool may_be_missing = false) {
  const std::string_view cell = cells[std::size_t(column)];
  const std::optional<double> value = recording::read_cell(cell, reader.decimal_sign);
  if (value && (std::isfinite(*value) || may_be_missing)) return value;
  reader.trouble(line.number, fmt::format("\"{}\" in column {}", cell, column + 1), "a number",
                 "Correct the cell, or leave out the row.");
  return {};
}

void read_wide(const std::vector<std::string_view>& cells, const TextLine& line, const Header& header, Reader& reader,
               Gathered& out) {
  const auto target = number_at(cells, header.target, line, reader);
  if (!target) return;
  for (std::size_t i = 0; i < header.sense.size(); ++i) {
    if (header.sense[i] == 0) continue;
    const auto value = number_at(cells, int(i), line, reader, true);
    if (!value || std::isnan(*value)) continue;  // an empty cell: that run has no reading here
    const double at_m = *target * header.target_unit_m, measured_m = *value * header.value_unit_m;
    out.add(at_m, header.readings ? measured_m - at_m : measured_m, header.sense[i]);
  }
}

struct Reading {
  double target_m = 0, deviation_m = 0;
  int sense = 0;
};

void read_long(const std::vector<std::string_view>& cells, const TextLine& line, const Header& header, Reader& reader,
               std::vector<Reading>& out) {
  const auto target = number_at(cells, header.target, line, reader);
  const auto value = number_at(cells, header.value, line, reader);
  if (!target || !value) return;
  Reading reading{.target_m = *target * header.target_unit_m};
  const double measured_m = *value * header.value_unit_m;
  reading.deviation_m = header.readings ? measured_m - reading.target_m : measured_m;
  if (header.direction >= 0) {
    const std::string_view cell = cells[std::size_t(header.direction)];
    std::vector<std::string> words = words_of(recording::lower_case(cell));
    if (words.size() == 1 && words[0] == "1") words[0] = "+1";
    reading.sense = direction_of(words);
    if (reading.sense == 0)
      reader.trouble(line.number, fmt::format("\"{}\" as direction", cell), "up or down (also +, -, rising, falling)",
                     "Correct the cell.");
  }
  out.push_back(reading);
}

// Directions from the order of the readings.
void tell_directions(std::vector<Reading>& readings) {
  for (std::size_t i = 1; i < readings.size(); ++i) {
    const double step = readings[i].target_m - readings[i - 1].target_m;
    readings[i].sense = step > 0 ? 1 : step < 0 ? -1 : -readings[i - 1].sense;
    if (i == 1) readings[0].sense = step > 0 ? 1 : -1;
  }
}

}  // namespace

std::vector<TargetRuns> read_position_table(std::string_view text, const std::string& file, const TableForm& form) {
  Reader reader{.file = file};
  const std::vector<TextLine> lines = lines_of(text);
  if (lines.size() < 2)
    reader.give_up(0, lines.empty() ? "an empty file" : "one line", "a header and rows of readings",
                   "Check that the table was saved whole.");
  find_separators(lines, reader);
  const Header header = header_of(lines[0], form, reader);
  check_header(header, lines[0], reader);
  Gathered gathered;
  std::vector<Reading> readings;
  for (std::size_t i = 1; i < lines.size(); ++i) {
    const auto cells = recording::split_cells(lines[i].text, reader.separator);
    if (cells.size() != header.sense.size()) {
      reader.trouble(lines[i].number, fmt::format("{} cells", cells.size()),
                     fmt::format("{} cells as in the header", header.sense.size()), "Complete or leave out the row.");
      continue;
    }
    if (header.value < 0)
      read_wide(cells, lines[i], header, reader, gathered);
    else
      read_long(cells, lines[i], header, reader, readings);
  }
  reader.throw_troubles();
  if (header.direction < 0) tell_directions(readings);
  for (const Reading& r : readings) gathered.add(r.target_m, r.deviation_m, r.sense);
  std::vector<TargetRuns> out;
  for (auto& [key, runs] : gathered.targets) out.push_back(std::move(runs));
  return out;
}

}  // namespace evenbeam::acceptance
