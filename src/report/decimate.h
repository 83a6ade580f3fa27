#pragma once
// From any number of samples to what a drawing can show. Samples are read in order; each run of samples that falls
// into one pixel column gives at most its first, lowest, highest and last point, in the order they came. No peak is
// lost, and a line of a million samples becomes a few thousand points. NaN in x or y (or either side of a log axis
// that cannot show the number) ends a piece: the gap stays a gap.
#include <cstddef>
#include <vector>

namespace evenbeam::report {

// From numbers in SI to drawing units. `factor` turns SI into the person's unit first.
struct Scale {
  double lo = 0, hi = 1;     // in the person's unit
  bool logarithmic = false;  // lo > 0 then
  double at_lo = 0, at_hi = 1;
  double factor = 1;
};
double place(const Scale& scale, double value_si);  // NaN where it cannot be shown

struct Point {
  double x = 0, y = 0;
};
using Piece = std::vector<Point>;  // joined by a line; one point alone is drawn as a dot

// Sizes of x and y are equal. `most` bounds the points of the answer: columns are widened until it holds.
std::vector<Piece> decimate_line(const std::vector<double>& x, const std::vector<double>& y, const Scale& scale_x,
                                 const Scale& scale_y, size_t most = 3000);

// One point for every occupied cell of a grid, cells grown until `most` holds; the first of each cell, in order.
Piece decimate_points(const std::vector<double>& x, const std::vector<double>& y, const Scale& scale_x,
                      const Scale& scale_y, size_t most = 1500);

// A band's outline: per column the highest of `upper` and the lowest of `lower` (drawing units).
struct BandPoint {
  double x = 0, lower = 0, upper = 0;
};
std::vector<std::vector<BandPoint>> decimate_band(const std::vector<double>& x, const std::vector<double>& lower,
                                                  const std::vector<double>& upper, const Scale& scale_x,
                                                  const Scale& scale_y);

}  // namespace evenbeam::report
