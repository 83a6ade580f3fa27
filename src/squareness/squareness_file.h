#pragma once
// squareness.toml (format evenbeam.squareness/1, docs/formats.md): what was measured of the right angle between
// bridge and rails, each by one of the methods of methods.h, circle.h and ball_plate.h.
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"
#include "squareness/ball_plate.h"
#include "squareness/circle.h"
#include "squareness/methods.h"
#include "squareness/thermal.h"

namespace evenbeam::squareness {

// How the bridge stood while it was measured: the number b - a of station marks, a and b = position minus latched
// mark.
struct Attitude {
  double b_minus_a_m = 0, error_m = 0;  // half width
};

struct Sheet {
  std::string file;
  std::vector<Diagonals> diagonals;
  std::vector<ReferenceSquare> reference_squares;
  std::vector<CircleRun> circles;
  std::vector<AngleTable> angle_tables;
  std::vector<BallPlate> ball_plates;
  std::vector<TwoPoints> two_points;
  std::optional<double> wanted_rad;  // largest out of square that the work takes
  std::optional<Attitude> attitude;
  std::optional<Thermal> thermal;
};
bool is_empty(const Sheet& sheet);  // nothing measured in it

// Bytes of a file that the sheet names, by its path in the job folder.
using ReadNamed = std::function<std::string(const std::string& path)>;
// Throws base::InputError with all troubles. `span_m` bounds what can lie between the rails.
Sheet read_sheet(const std::string& text, const std::string& file_name, double span_m, const ReadNamed& read);

// What a new job begins with: every key explained, nothing measured.
std::string sheet_template();

}  // namespace evenbeam::squareness
