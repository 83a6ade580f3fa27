#pragma once
// How a foreign text file of numbers is laid out: separator, decimal sign, preamble, header, units row, first data
// row. Found from its first lines alone: the separator and decimal sign that read the most of them as rows of
// numbers.
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::recording {

struct Layout {
  char separator = ',';               // , ; tab, or blank (any run of blanks)
  char decimal_sign = '.';            // . or ,
  std::vector<std::string> preamble;  // lines before the header, in order, blank ones left out
  std::vector<std::string> names;     // header cells, empty where there is no header
  std::vector<std::string> unit_row;  // a row of units under the header, empty where there is none
  std::size_t columns = 0;            // cells of a data row, >= 2
  std::size_t data_offset = 0;        // byte where the first data row begins
  long header_line = 0;               // 1-based, 0 = none
  long first_data_line = 0;           // 1-based
};

// What the person stated; nullopt = find it.
struct StatedLayout {
  std::optional<char> separator, decimal_sign;
};

// `head` is the beginning of the file (64 KiB are plenty), `whole` true where it is all of it.
// Throws base::InputError: empty, binary, UTF-16, no rows of numbers, header and rows disagree,
// decimal or thousands comma that cannot be told apart.
Layout find_layout(std::string_view head, bool whole, const std::string& file, const StatedLayout& stated = {});

// Cells of one line. For the blank separator runs count once and blanks at both ends do not count.
// Double quotes keep a separator inside a cell together.
std::vector<std::string_view> split_cells(std::string_view line, char separator);

}  // namespace evenbeam::recording
