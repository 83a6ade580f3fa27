#pragma once
// A capture as a file, in one of the forms in which recorders write them.
#include <string>
#include <vector>

#include "capture.h"

namespace generator {

struct FileForm {
  std::string separator = ",";
  bool decimal_comma = false, byte_order_mark = false, carriage_return = false;
  std::vector<std::string> preamble;  // lines before the header
  // Names of time, reference A and B, position A and B, output A and B, latched A and B. An empty name leaves the
  // column out.
  std::vector<std::string> names = {"t_s",       "ref_a_mm",  "ref_b_mm",     "pos_a_mm",    "pos_b_mm",
                                    "out_a_pct", "out_b_pct", "latched_a_mm", "latched_b_mm"};
  double time_unit_s = 1;
  int time_digits = 4;
  double length_unit_m = 1e-3;
  int length_digits = 5;
  double output_unit_a_n = 1, output_unit_b_n = 1;  // commanded newtons in one unit of the output columns
  int output_digits = 3;
  std::string missing = "nan";  // a latch not yet seen
};

std::string file_text(const Capture& capture, const FileForm& form);

}  // namespace generator
