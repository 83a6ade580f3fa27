#include "math/circle.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "math/least_squares.h"

namespace evenbeam::math {
namespace {

constexpr double turn = 2 * std::numbers::pi;

double range_of_radii(const std::vector<Polar>& polar) {
  const auto [low, high] = std::minmax_element(
      polar.begin(), polar.end(), [](const Polar& a, const Polar& b) { return a.radius_m < b.radius_m; });
  return high->radius_m - low->radius_m;
}

Point centre_of(const std::vector<Point>& points) {
  Point c;
  for (const Point& p : points) {
    c.x_m += p.x_m / static_cast<double>(points.size());
    c.y_m += p.y_m / static_cast<double>(points.size());
  }
  return c;
}

}  // namespace

std::vector<Polar> polar_about(const std::vector<Point>& points, double centre_x_m, double centre_y_m) {
  std::vector<Polar> out;
  out.reserve(points.size());
  for (const Point& p : points)
    out.push_back(
        {std::atan2(p.y_m - centre_y_m, p.x_m - centre_x_m), std::hypot(p.x_m - centre_x_m, p.y_m - centre_y_m)});
  return out;
}

CircleFit fit_circle(const std::vector<Point>& points) {
  CircleFit out;
  if (points.size() < 3) return out;
  Point c = centre_of(points);
  double radius = 0;
  for (int step = 0; step < 50; ++step) {
    const std::vector<Polar> polar = polar_about(points, c.x_m, c.y_m);
    Matrix a(points.size(), 3);
    std::vector<double> radii;
    for (size_t i = 0; i < polar.size(); ++i) {
      a(i, 0) = 1, a(i, 1) = std::cos(polar[i].angle_rad), a(i, 2) = std::sin(polar[i].angle_rad);
      radii.push_back(polar[i].radius_m);
    }
    const auto fit = solve_least_squares(a, radii);
    if (fit.state != FitState::solved) return out;
    radius = fit.coefficients[0];
    c.x_m += fit.coefficients[1], c.y_m += fit.coefficients[2];
    if (std::hypot(fit.coefficients[1], fit.coefficients[2]) < 1e-13 * radius) break;
  }
  if (!(radius > 0) || !std::isfinite(radius)) return out;
  out.found = true;
  out.circle = {c.x_m, c.y_m, radius, range_of_radii(polar_about(points, c.x_m, c.y_m))};
  return out;
}

std::vector<double> radii_on_grid(const std::vector<Point>& points, double centre_x_m, double centre_y_m,
                                  std::size_t count) {
  std::vector<Polar> polar = polar_about(points, centre_x_m, centre_y_m);
  std::sort(polar.begin(), polar.end(), [](const Polar& a, const Polar& b) { return a.angle_rad < b.angle_rad; });
  std::vector<double> out;
  for (std::size_t k = 0; k < count; ++k) {
    const double angle = -std::numbers::pi + turn * (static_cast<double>(k) + 0.5) / static_cast<double>(count);
    const auto above = std::lower_bound(polar.begin(), polar.end(), angle,
                                        [](const Polar& p, double limit) { return p.angle_rad < limit; });
    const Polar& high = above != polar.end() ? *above : polar.front();
    const Polar& low = above != polar.begin() ? *(above - 1) : polar.back();
    double gap = high.angle_rad - low.angle_rad, part = angle - low.angle_rad;
    if (gap <= 0) gap += turn;
    if (part < 0) part += turn;
    out.push_back(gap > turn / 12 ? std::numeric_limits<double>::quiet_NaN()  // nothing measured near
                                  : low.radius_m + (high.radius_m - low.radius_m) * part / gap);
  }
  return out;
}

double largest_radial_difference(const std::vector<Point>& one, const std::vector<Point>& other, double centre_x_m,
                                 double centre_y_m, std::size_t count) {
  const std::vector<double> a = radii_on_grid(one, centre_x_m, centre_y_m, count);
  const std::vector<double> b = radii_on_grid(other, centre_x_m, centre_y_m, count);
  double largest = 0;
  for (std::size_t i = 0; i < count; ++i)
    if (std::isfinite(a[i]) && std::isfinite(b[i])) largest = std::max(largest, std::abs(a[i] - b[i]));
  return largest;
}

}  // namespace evenbeam::math
