#pragma once
// Foreign text to columns of numbers, as they stand in the file: no units, no roles, no trust yet.
// Memory: the columns, one 256 KiB buffer and nothing else, whatever the file's length; at most kMostCells numbers
// are kept, the rows after them are read, checked and counted.
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "base/files.h"
#include "recording/layout.h"

namespace evenbeam::recording {

// 1.6 GB of numbers: 40 million rows of five columns, over an hour at 10 kHz.
inline constexpr std::size_t kMostCells = 200'000'000;

struct Table {
  Layout layout;
  std::vector<std::vector<double>> columns;  // layout.columns of them, all `rows` long; NaN where missing
  std::size_t rows = 0;
  std::size_t rows_beyond = 0;    // after the kept ones, counted and not kept
  std::vector<long> blank_lines;  // 1-based, at most the first 1000: a row's line is found with line_of_row
  std::string cut_line;           // text of a last line that was cut off and left out; empty where none
  std::size_t bytes = 0;
};

// Line of a row in the file, 1-based.
long line_of_row(const Table& table, std::size_t row);

// Throws base::InputError with up to eight troubles, each with its line: cells that are no numbers, rows too short or
// too long, a file without rows, and what find_layout refuses. A broken last line costs only itself.
Table read_table(std::string_view bytes, const std::string& file, const StatedLayout& stated = {});

// Reads the source to its end, whatever of it is kept.
Table read_table(const base::ByteSource& source, const std::string& file, const StatedLayout& stated = {},
                 std::size_t most_cells = kMostCells);

}  // namespace evenbeam::recording
