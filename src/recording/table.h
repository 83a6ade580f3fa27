#pragma once
// Foreign text to columns of numbers, as they stand in the file: no units, no roles, no trust yet.
// Memory: the columns, one 256 KiB buffer and nothing else, whatever the file's length.
#include <cstddef>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "recording/layout.h"

namespace evenbeam::recording {

struct Table {
  Layout layout;
  std::vector<std::vector<double>> columns;  // layout.columns of them, all `rows` long; NaN where missing
  std::size_t rows = 0;
  std::vector<long> blank_lines;  // 1-based, at most the first 1000: a row's line is found with line_of_row
  std::string cut_line;           // text of a last line that was cut off and left out; empty where none
  std::size_t bytes = 0;
};

// Line of a row in the file, 1-based.
long line_of_row(const Table& table, std::size_t row);

// Throws base::InputError with up to eight troubles, each with its line: cells that are no numbers, rows too short or
// too long, a file without rows, and what find_layout refuses. A broken last line costs only itself.
Table read_table(std::string_view bytes, const std::string& file, const StatedLayout& stated = {});

// Fills at most `room` bytes at `buffer`, returns how many, 0 at the end.
using ByteSource = std::function<std::size_t(char* buffer, std::size_t room)>;
Table read_table(const ByteSource& source, const std::string& file, const StatedLayout& stated = {});

}  // namespace evenbeam::recording
