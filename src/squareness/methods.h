#pragma once
// The ways to measure squareness that need a few readings. Each gives an Observation; signs as in observation.h.
// Half widths ("error") are of rectangular distributions. Derivations: docs/squareness.md.
#include <string>
#include <vector>

#include "squareness/observation.h"

namespace evenbeam::squareness {

// Where and with what: common to all methods.
struct Where {
  std::string name;           // "diagonals 1"
  std::optional<double> x_m;  // where the bridge stood: the middle of the measured field
  std::string instrument;     // measurements that share a text here share the instrument's own error
};

// The carriage marks the corners of a rectangle of its own coordinates, length_x along the rails, length_y along the
// bridge; both diagonals are measured. `rising` runs from A's side at small x to B's side at large x (drawn with A
// below and x to the right it rises), `falling` from B's side at small x to A's side at large x.
//   e = asin((falling^2 - rising^2) / (4 length_x length_y))         parallelogram identity
// A length error in proportion (tape too long) changes e by twice that proportion of itself: nothing. Where e changes
// along the rails this is the mean of its values at both ends of the rectangle.
struct Diagonals {
  Where where;
  double length_x_m = 0, length_y_m = 0;
  std::vector<double> rising_m, falling_m;  // one or more readings each
  double reading_error_m = 0;               // of each diagonal, beyond the scatter of its readings
  double point_error_m = 0;                 // of each corner's mark, along the diagonal
};
Observation from_diagonals(const Diagonals& d);

// A square lies on the table; an indicator on the carriage is run along its edge in x and its edge in y. Readings at
// the low and the high end of each run grow as the edge lies further towards +y (run along x) or +x (run along y).
// With slopes m = (high - low)/length_x and n = (high - low)/length_y and the square's own error q (its angle is
// 90 degrees + q as it lies): e = m + n + q. Turned over, q changes sign:
//   e = ((m + n) + (m' + n'))/2,   q = ((m' + n') - (m + n))/2
struct EdgeRun {
  double low_m = 0, high_m = 0;
};
struct ReferenceSquare {
  Where where;
  double length_x_m = 0, length_y_m = 0;
  EdgeRun first_x, first_y;
  std::optional<EdgeRun> turned_x, turned_y;  // both or none
  double reading_error_m = 0;                 // of each reading
  double square_error_rad = 0;                // of the square itself; counts only without reversal
};
Observation from_reference_square(const ReferenceSquare& r);
std::optional<double> own_error_rad(const ReferenceSquare& r);  // q, as it lay first; known with reversal alone

// The carriage touches two points, the second further along the bridge. `true_offset`: how much further towards +x
// the second truly stands.    e = ((x_second - x_first) - true_offset) / (y_second - y_first)
struct TwoPoints {
  Where where;
  double y_first_m = 0, y_second_m = 0;
  std::vector<double> x_first_m, x_second_m;  // what the machine shows when it touches
  double true_offset_m = 0, true_offset_error_m = 0;
  double reading_error_m = 0;  // of each touch
};
Observation from_two_points(const TwoPoints& t);

// Out of square read along the rails, by a laser with an optical square for instance.
struct AngleTable {
  Where where;
  std::vector<double> x_m, out_of_square_rad;
  double reading_error_rad = 0;  // of each row
  double zero_error_rad = 0;     // of the reference angle: the same in every row
};
std::vector<Observation> from_angle_table(const AngleTable& t);

}  // namespace evenbeam::squareness
