#pragma once
// A circle through measured points.
// Least-squares circle: the circle of least summed squared radial distances sum (|p_i - c| - R)^2; Gauss-Newton on
// centre c and radius R, started at the points' mean.
// Deviation: the range of the radii about that centre. ISO 230-4 (clause wording from memory) takes the circles of
// minimum zone, or this; this is never less than theirs.
#include <cstddef>
#include <vector>

namespace evenbeam::math {

struct Point {
  double x_m = 0, y_m = 0;
};
struct Polar {
  double angle_rad = 0;  // -pi to pi, from +x towards +y
  double radius_m = 0;
};
std::vector<Polar> polar_about(const std::vector<Point>& points, double centre_x_m, double centre_y_m);

struct FittedCircle {
  double centre_x_m = 0, centre_y_m = 0, radius_m = 0;
  double deviation_m = 0;  // largest less smallest radius about the centre
};
// At least three points, not in a line; `found` false where there is no circle.
struct CircleFit {
  bool found = false;
  FittedCircle circle;
};
CircleFit fit_circle(const std::vector<Point>& points);

// Radius about a centre against the angle: `count` angles in the middles of equal parts from -pi on, straight between
// neighbours in angle; NaN where no points stand within a twelfth of a turn.
std::vector<double> radii_on_grid(const std::vector<Point>& points, double centre_x_m, double centre_y_m,
                                  std::size_t count);

// Largest difference of the radii of two paths at one angle, on `count` angles about one centre (hysteresis).
double largest_radial_difference(const std::vector<Point>& one, const std::vector<Point>& other, double centre_x_m,
                                 double centre_y_m, std::size_t count);

}  // namespace evenbeam::math
