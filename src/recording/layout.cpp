#include "recording/layout.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

#include "base/input_error.h"
#include "recording/number.h"
#include "recording/words.h"

namespace evenbeam::recording {
namespace {

using base::InputError;
using base::Trouble;

constexpr std::size_t kSampleLines = 400;  // enough to pass any preamble met so far; more only costs time

struct Line {
  std::string_view text;  // without line end
  std::size_t offset = 0;
  long number = 0;  // 1-based
};

struct Form {
  char separator, decimal_sign;
};
// In order of preference where two read a file equally well. Commas for both: the cells are quoted.
constexpr std::array<Form, 8> kForms{
    {{'\t', '.'}, {';', '.'}, {',', '.'}, {'\t', ','}, {';', ','}, {' ', '.'}, {' ', ','}, {',', ','}}};

void refuse_what_is_no_text(std::string_view head, const std::string& file) {
  if (head.find_first_not_of(" \t\r\n") == std::string_view::npos)
    throw InputError(Trouble{file, 0, 0, "an empty file", "rows of numbers", "Export the recording again."});
  const bool marked = head.substr(0, 2) == "\xFF\xFE" || head.substr(0, 2) == "\xFE\xFF";
  const std::size_t zero = head.find('\0');
  if (marked || (zero != std::string_view::npos && zero <= 1))
    throw InputError(Trouble{file, 0, 0, "UTF-16 text (two bytes a character)", "plain text or UTF-8",
                             "Export as CSV in plain text or UTF-8, not as \"Unicode text\"."});
  const auto control = std::find_if(head.begin(), head.end(), [](char c) {
    return static_cast<unsigned char>(c) < 32 && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != '\v';
  });
  if (control != head.end())
    throw InputError(Trouble{file, 1 + std::count(head.begin(), control, '\n'), 0,
                             fmt::format("byte 0x{:02x}, which no text has", static_cast<unsigned char>(*control)),
                             "a text file of numbers", "Export the recording as CSV or tab-separated text."});
  if (head.find('\n') == std::string_view::npos && head.find('\r') != std::string_view::npos)
    throw InputError(Trouble{file, 0, 0, "lines that end in a carriage return alone", "lines that end in LF or CR LF",
                             "Save the file with ordinary line ends."});
}

std::vector<Line> first_lines(std::string_view head, bool whole) {
  std::vector<Line> lines;
  std::size_t at = head.substr(0, 3) == "\xEF\xBB\xBF" ? 3 : 0;
  while (at < head.size() && lines.size() < kSampleLines) {
    const std::size_t end = head.find('\n', at);
    if (end == std::string_view::npos && !whole && !lines.empty()) break;  // cut by the end of `head`
    std::string_view text = head.substr(at, end == std::string_view::npos ? end : end - at);
    while (!text.empty() && text.back() == '\r') text.remove_suffix(1);
    lines.push_back({text, at, static_cast<long>(lines.size()) + 1});
    if (end == std::string_view::npos) break;
    at = end + 1;
  }
  return lines;
}

bool is_blank(std::string_view text) { return text.find_first_not_of(" \t,;") == std::string_view::npos; }

// Cells of a row of numbers, 0 where one cell is none or all are missing.
std::size_t numeric_cells(std::string_view line, Form form) {
  const auto cells = split_cells(line, form.separator);
  bool any = false;
  for (std::string_view cell : cells) {
    const auto value = read_cell(cell, form.decimal_sign);
    if (!value) return 0;
    any = any || *value == *value;
  }
  return any ? cells.size() : 0;
}

// How many lines of the sample a form reads as rows of the same width, and where the first such row is.
struct Reading {
  Form form{};
  std::size_t rows = 0, columns = 0, first = 0;
};
Reading reading_of(const std::vector<Line>& lines, Form form) {
  std::map<std::size_t, Reading> by_width;
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const std::size_t width = numeric_cells(lines[i].text, form);
    if (width < 2) continue;
    Reading& reading = by_width.try_emplace(width, Reading{form, 0, width, i}).first->second;
    ++reading.rows;
  }
  Reading best{form};
  for (const auto& [width, reading] : by_width)
    if (reading.rows > best.rows) best = reading;
  return best;
}

Reading best_reading(const std::vector<Line>& lines, const StatedLayout& stated) {
  Reading best;
  for (const Form& form : kForms) {
    if (stated.separator && *stated.separator != form.separator) continue;
    if (stated.decimal_sign && *stated.decimal_sign != form.decimal_sign) continue;
    const Reading reading = reading_of(lines, form);
    if (reading.rows > best.rows) best = reading;
  }
  return best;
}

[[noreturn]] void refuse_without_rows(const std::vector<Line>& lines, const std::string& file) {
  // The likeliest data line: the last non-blank one of the sample.
  const auto last = std::find_if(lines.rbegin(), lines.rend(), [](const Line& l) { return !is_blank(l.text); });
  const bool blank = last == lines.rend();
  throw InputError(Trouble{file, blank ? 0 : last->number, 0,
                           blank ? "nothing but blanks and separators"
                                 : fmt::format("\"{}\" and no rows of numbers", shortened(last->text)),
                           "rows of at least two numbers, separated by comma, semicolon, tab or blanks",
                           "Export time, positions and outputs as numbers, one row a sample."});
}

// "1,234;5,678": decimal comma or thousands? A comma followed by other than three digits, or after a lone zero,
// tells.
void refuse_doubtful_comma(const std::vector<Line>& lines, const Reading& reading, const std::string& file) {
  const Line* doubtful = nullptr;
  for (std::size_t i = reading.first; i < lines.size(); ++i)
    for (std::string_view cell : split_cells(lines[i].text, reading.form.separator)) {
      const std::size_t comma = cell.find(',');
      if (comma == std::string_view::npos) continue;
      const std::size_t first = cell.find_first_of("0123456789");
      const std::size_t after = cell.find_last_of("0123456789") - comma;
      const bool thousands = first < comma && cell[first] != '0' && comma - first <= 3 && after == 3;
      if (!thousands) return;
      doubtful = doubtful ? doubtful : &lines[i];
    }
  if (!doubtful) return;
  throw InputError(Trouble{file, doubtful->number, 0, fmt::format("\"{}\"", shortened(doubtful->text)),
                           "commas that are surely decimal: here each could also part thousands",
                           fmt::format("If they are decimal commas, add to recordings.toml under [files.\"{}\"]: "
                                       "decimal = \",\". If not, export without thousands separators.",
                                       file)});
}

std::vector<std::string> clean_cells(std::string_view line, char separator) {
  while (!line.empty() && (line.front() == '#' || line.front() == '%' || line.front() == ' ')) line.remove_prefix(1);
  std::vector<std::string> cells;
  for (std::string_view cell : split_cells(line, separator)) cells.push_back(clean_text(cell));
  return cells;
}

// A trailing separator makes one more, empty cell, in the header or in the rows. A name missing elsewhere is not made
// up: the names would stand over the wrong columns.
bool fits(std::vector<std::string>& cells, std::size_t columns, bool rows_end_empty) {
  if (cells.size() == columns + 1 && cells.back().empty()) cells.pop_back();
  if (cells.size() + 1 == columns && rows_end_empty) cells.push_back("");
  return cells.size() == columns;
}

bool is_unit_row(const std::vector<std::string>& cells) {
  std::size_t units = 0;
  for (const std::string& cell : cells) {
    if (cell.empty()) continue;
    if (!unit_word(cell)) return false;
    ++units;
  }
  return units > 0;
}

// What stands above the first row: units row, header, preamble, from below.
void read_above(Layout& layout, const std::vector<Line>& lines, const Reading& reading, const std::string& file) {
  std::vector<const Line*> above;
  for (std::size_t i = 0; i < reading.first; ++i)
    if (!is_blank(lines[i].text)) above.push_back(&lines[i]);
  if (above.empty()) return;
  const std::size_t width = numeric_cells(above.back()->text, reading.form);
  if (width > 1)
    throw InputError(Trouble{file, above.back()->number, 0, fmt::format("{} numbers", width),
                             fmt::format("{}, as in the rows that follow", layout.columns),
                             "Complete or remove this line, or export again."});
  const auto row = split_cells(lines[reading.first].text, layout.separator);
  const bool rows_end_empty = clean_text(row.back()).empty();
  std::vector<std::string> cells = clean_cells(above.back()->text, layout.separator);
  if (fits(cells, layout.columns, rows_end_empty) && above.size() > 1 && is_unit_row(cells)) {
    layout.unit_row = cells;
    above.pop_back();
    cells = clean_cells(above.back()->text, layout.separator);
  }
  if (fits(cells, layout.columns, rows_end_empty)) {
    layout.names = cells;
    layout.header_line = above.back()->number;
    above.pop_back();
  } else if (cells.size() > 2 && above.back()->text.find(':') == std::string_view::npos) {
    throw InputError(Trouble{file, above.back()->number, 0,
                             fmt::format("{} names over rows of {} numbers", cells.size(), layout.columns),
                             "one name for each column", "Correct the header, or export again."});
  }
  for (const Line* line : above) layout.preamble.emplace_back(line->text);
}

}  // namespace

std::vector<std::string_view> split_cells(std::string_view line, char separator) {
  std::vector<std::string_view> cells;
  std::size_t at = 0;
  if (separator == ' ') {
    while ((at = line.find_first_not_of(" \t", at)) != std::string_view::npos) {
      const std::size_t end = std::min(line.find_first_of(" \t", at), line.size());
      cells.push_back(line.substr(at, end - at));
      at = end;
    }
    return cells;
  }
  bool quoted = false;
  for (std::size_t i = 0; i <= line.size(); ++i) {
    if (i < line.size() && line[i] == '"') quoted = !quoted;
    if (i == line.size() || (line[i] == separator && !quoted)) {
      cells.push_back(line.substr(at, i - at));
      at = i + 1;
    }
  }
  return cells;
}

Layout find_layout(std::string_view head, bool whole, const std::string& file, const StatedLayout& stated) {
  refuse_what_is_no_text(head, file);
  const std::vector<Line> lines = first_lines(head, whole);
  const Reading reading = best_reading(lines, stated);
  if (reading.rows == 0) refuse_without_rows(lines, file);
  if (reading.form.decimal_sign == ',' && reading.form.separator != ',' && !stated.decimal_sign)
    refuse_doubtful_comma(lines, reading, file);

  Layout layout;
  layout.separator = reading.form.separator;
  layout.decimal_sign = reading.form.decimal_sign;
  layout.columns = reading.columns;
  layout.data_offset = lines[reading.first].offset;
  layout.first_data_line = lines[reading.first].number;
  read_above(layout, lines, reading, file);
  return layout;
}

}  // namespace evenbeam::recording
