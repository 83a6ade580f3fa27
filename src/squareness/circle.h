#pragma once
// A circle driven by the machine, measured by something that sees the true place (a bar between table and carriage, a
// grid plate); the machine's own scales cannot see that it is out of square.
// With carriage coordinates (R cos p, R sin p), out of square e and scale errors k_x, k_y the true radius is
//   r(p) = R' + c_x cos p + c_y sin p + (R (k_x - k_y)/2) cos 2p - (e R/2) sin 2p        small e, p from +x towards
//   +y
// so that the diameters at 45 and 135 degrees differ by e times the diameter. Unequal lags of the two axes put a
// sin 2p of the other sign into the two directions; their mean is free of it.
// Circle: math/circle.h. ISO 230-4 (clause wording from memory): circular deviation G, the range of the radii about
// the least-squares circle (the standard's minimum-zone circles give at most this); bidirectional G(b), the same over
// both directions about their common centre; hysteresis H, the largest difference of the two directions' radii at one
// angle.
#include <string>
#include <vector>

#include "math/circle.h"
#include "squareness/methods.h"

namespace evenbeam::squareness {

using math::CircleFit;
using math::fit_circle;
using math::FittedCircle;
using math::Point;
using math::radii_on_grid;

// Second harmonic of the radius about the least-squares circle.
struct EllipticForm {
  double square_part_m = 0;              // amplitude of sin 2p: -e R / 2
  double scale_part_m = 0;               // amplitude of cos 2p: R (k_x - k_y)/2
  double square_part_uncertainty_m = 0;  // from the scatter of what is left, neighbours not taken as independent
  double degrees = 0;
};
EllipticForm elliptic_form(const std::vector<Point>& points, const FittedCircle& circle);

struct CircleRun {
  Where where;
  double radius_m = 0;                          // nominal
  std::vector<Point> anticlockwise, clockwise;  // one may be empty
  std::string file_anticlockwise, file_clockwise;
  double reading_error_m = 0;  // of the radius, as it may go into sin 2p
  double lag_error_m = 0;      // sin 2p that unequal lags may leave; counts only with one direction
};
struct CircleResult {
  std::string name;
  Observation observation;
  FittedCircle anticlockwise, clockwise;                            // radius 0 where not driven
  std::optional<double> bidirectional_m, hysteresis_m, lag_part_m;  // both directions alone
  double scale_mismatch = 0;                                        // k_x - k_y
};
// Both fits must exist (checked where the file is read).
CircleResult from_circle(const CircleRun& run);

}  // namespace evenbeam::squareness
