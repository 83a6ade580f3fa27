#pragma once
// A synthetic capture for the tests of this room, and the many ways of writing it as text. Invented numbers.
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::recording::test {

struct Capture {
  double period_s = 0.0005;
  std::vector<double> reference_a_m, reference_b_m, position_a_m, position_b_m, force_a_n, force_b_n;
};
// One stroke there and back of 80 mm at 0.4 m/s; sides differ in every column, so that a swap shows.
Capture capture(double period_s = 0.0005);
// 0.5 um a count, peak 2000 N and 8 A on A, 1500 N and 10 A on B.
machine::Machine machine();

// How a number column is written: value_in_file = value_si * factor, with so many decimals.
struct Scale {
  double factor = 1;
  int decimals = 6;
};
struct Form {
  char separator = ',', decimal_sign = '.';
  std::string line_end = "\n";
  std::string before;  // byte-order mark, preamble lines
  std::vector<std::string> names{"t_s", "ref_a_mm", "ref_b_mm", "pos_a_mm", "pos_b_mm", "out_a_pct", "out_b_pct"};
  std::string unit_row;  // a whole line, without its end
  // Columns in file order: 0 time, 1 and 2 references, 3 and 4 positions, 5 and 6 outputs, -1 a temperature.
  std::vector<int> order{0, 1, 2, 3, 4, 5, 6};
  Scale time{1, 6}, position{1e3, 5}, output_a{100.0 / 2000, 8}, output_b{100.0 / 1500, 8};
  double first_sample = 0;  // time column counts samples from here where time.factor is 0
  bool trailing_separator = false, quoted = false, plus_signs = false, last_line_end = true;
};
std::string text_of(const Capture& capture, const Form& form);

}  // namespace evenbeam::recording::test
