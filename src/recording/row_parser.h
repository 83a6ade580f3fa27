#pragma once
// Rows of numbers out of a window of whole lines: the inner loop of read_table.
#include <string_view>
#include <vector>

#include "base/input_error.h"
#include "recording/table.h"

namespace evenbeam::recording {

class RowParser {
 public:
  RowParser(Table& table, const std::string& file, std::size_t expected_bytes, std::size_t most_cells = kMostCells);
  // `window` ends with a line end. Stops early after eight troubles.
  void read(std::string_view window);
  // The text after the last line end; may be cut anywhere.
  void read_last(std::string_view text);
  // Throws where there were troubles or no rows; a trouble in the very last line only moves it to table.cut_line.
  void finish();

 private:
  void read_line(std::string_view line);  // the careful way, any line
  void keep_row();
  void flush();
  void note(std::size_t column, std::string found, std::string expected, std::string_view line);

  Table& table_;
  const std::string& file_;
  const char separator_, decimal_sign_;
  const std::size_t columns_, most_rows_;
  std::vector<double> block_;  // row-major, kBlockRows rows, handed over to the columns when full
  std::size_t block_rows_ = 0;
  long line_ = 0;
  std::size_t last_decimals_ = 0;  // decimals of the last cell of the last window
  std::vector<base::Trouble> troubles_;
  std::string bad_line_;  // text of the last bad line
};

}  // namespace evenbeam::recording
