#include "recording/row_parser.h"

#include <fmt/format.h>

#include <algorithm>

#include "recording/number.h"
#include "recording/words.h"

namespace evenbeam::recording {
namespace {

constexpr std::size_t kBlockRows = 512;   // 7 columns: 28 KiB, inside the first-level cache
constexpr std::size_t kMostTroubles = 8;  // more lines would say the same again
constexpr std::size_t kMostBlankLines = 1000;

bool is_blank(std::string_view text) { return text.find_first_not_of(" \t\r") == std::string_view::npos; }

// Of the last cell of a line; the separator is never the decimal sign.
std::size_t last_decimals(std::string_view line, char separator, char decimal_sign) {
  while (!line.empty() && (line.back() == '\n' || line.back() == '\r' || line.back() == ' ')) line.remove_suffix(1);
  const std::size_t cell = line.rfind(separator);
  const std::size_t at = line.rfind(decimal_sign);
  const bool none = at == std::string_view::npos || (cell != std::string_view::npos && at < cell);
  return none ? 0 : line.size() - at - 1;
}

}  // namespace

RowParser::RowParser(Table& table, const std::string& file, std::size_t expected_bytes, std::size_t most_cells)
    : table_(table),
      file_(file),
      separator_(table.layout.separator),
      decimal_sign_(table.layout.decimal_sign),
      columns_(table.layout.columns),
      most_rows_(most_cells / table.layout.columns),
      block_(kBlockRows * table.layout.columns),
      line_(table.layout.first_data_line - 1) {
  table_.columns.resize(columns_);
  // A cell is rarely under four bytes; a wrong guess costs address space or one copy, no more.
  for (auto& column : table_.columns) column.reserve(std::min(expected_bytes / (columns_ * 7) + 1, most_rows_));
}

void RowParser::flush() {
  for (std::size_t c = 0; c < columns_; ++c) {
    auto& column = table_.columns[c];
    const std::size_t before = column.size();
    column.resize(before + block_rows_);
    const double* from = block_.data() + c;
    for (std::size_t r = 0; r < block_rows_; ++r, from += columns_) column[before + r] = *from;
  }
  table_.rows += block_rows_;
  block_rows_ = 0;
}

void RowParser::keep_row() {
  if (table_.rows + block_rows_ >= most_rows_)
    ++table_.rows_beyond;
  else if (++block_rows_ == kBlockRows)
    flush();
}

void RowParser::note(std::size_t column, std::string found, std::string expected, std::string_view line) {
  bad_line_ = line.substr(0, 200);
  const std::string name = column > 0 && column <= table_.layout.names.size() ? table_.layout.names[column - 1] : "";
  if (column > 0)
    found = fmt::format("{} in cell {}{}", found, column, name.empty() ? "" : fmt::format(" ({})", shortened(name)));
  troubles_.push_back({file_, line_, 0, std::move(found), std::move(expected),
                       "Remove or complete this line, split the file here, or export again."});
}

void RowParser::read_line(std::string_view line) {
  while (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  if (is_blank(line)) {
    if (table_.blank_lines.size() < kMostBlankLines) table_.blank_lines.push_back(line_);
    return;
  }
  auto cells = split_cells(line, separator_);
  if (cells.size() == columns_ + 1 && clean_text(cells.back()).empty()) cells.pop_back();
  if (cells.size() != columns_)
    return note(0, fmt::format("{} cells", cells.size()),
                fmt::format("{} as in line {}", columns_, table_.layout.first_data_line), line);
  double* row = block_.data() + block_rows_ * columns_;
  for (std::size_t c = 0; c < columns_; ++c) {
    const auto value = read_cell(cells[c], decimal_sign_);
    if (!value)
      return note(c + 1, fmt::format("\"{}\"", shortened(clean_text(cells[c]))), "a finite number, nan or nothing",
                  line);
    row[c] = *value;
  }
  keep_row();
}

void RowParser::read(std::string_view window) {
  const char* p = window.data();
  const char* const end = p + window.size();
  const char separator = separator_, decimal_sign = decimal_sign_;
  const std::size_t columns = columns_;
  while (p < end) {
    ++line_;
    const char* const line = p;
    double* row = block_.data() + block_rows_ * columns;
    std::size_t c = 0;
    for (; c < columns && separator != decimal_sign; ++c) {
      if (separator == ' ')
        while (*p == ' ' || *p == '\t') ++p;
      const char* next = read_plain_decimal(p, decimal_sign, row[c]);
      if (next == nullptr) break;
      p = next;
      if (c + 1 < columns) {
        if (*p != separator) break;
        ++p;
      }
    }
    if (c == columns) {
      if (*p == '\r') ++p;
      if (*p == '\n') {
        ++p;
        keep_row();
        continue;
      }
    }
    p = line;
    const char* const line_end = std::find(p, end, '\n');
    read_line({p, static_cast<std::size_t>(line_end - p)});
    if (troubles_.size() >= kMostTroubles) return;
    p = line_end + 1;
  }
  const std::size_t before = window.size() < 2 ? std::string_view::npos : window.rfind('\n', window.size() - 2);
  last_decimals_ =
      last_decimals(window.substr(before == std::string_view::npos ? 0 : before + 1), separator, decimal_sign);
}

void RowParser::read_last(std::string_view text) {
  if (text.empty() || troubles_.size() >= kMostTroubles) return;
  ++line_;
  // A line without its end may have lost digits: kept only where its last cell has the decimals of the line before.
  if (table_.rows + block_rows_ > 0 && last_decimals(text, separator_, decimal_sign_) < last_decimals_)
    table_.cut_line = text.substr(0, 200);
  else
    read_line(text);
}

void RowParser::finish() {
  flush();
  if (troubles_.size() == 1 && troubles_.front().line == line_ && table_.rows > 0) {
    table_.cut_line = bad_line_;
    troubles_.clear();
  }
  if (!troubles_.empty()) throw base::InputError(std::move(troubles_));
  if (table_.rows == 0)
    throw base::InputError(
        base::Trouble{file_, 0, 0, "no rows", "rows of numbers under the header", "Export the recording again."});
}

}  // namespace evenbeam::recording
