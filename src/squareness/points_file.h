#pragma once
// Measured points from a text file with a header: columns found by name, each with its unit ("x mm", "angle deg",
// "true_x mm"), other columns left alone.
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "squareness/circle.h"

namespace evenbeam::squareness {

struct WantedColumn {
  std::string_view name;     // "true_x": words as in the header, joined by _
  std::string_view si_unit;  // "m", "rad"
};
// SI columns in the order wanted. Throws base::InputError: not a table, a column or unit missing, a cell empty.
std::vector<std::vector<double>> read_columns(const std::string& bytes, const std::string& file,
                                              const std::vector<WantedColumn>& wanted);
// A circle's points in the order driven: columns x, y; or angle, radius; or angle, deviation (from `radius_m`).
std::vector<Point> read_circle(const std::string& bytes, const std::string& file, double radius_m);

}  // namespace evenbeam::squareness
