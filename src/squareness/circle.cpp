#include "squareness/circle.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "math/least_squares.h"

namespace evenbeam::squareness {
namespace {

// Independent readings among n whose neighbours are alike: n (1 - r)/(1 + r), r the correlation of neighbours.
double independent_count(const std::vector<double>& left) {
  double squares = 0, products = 0;
  for (size_t i = 0; i < left.size(); ++i) {
    squares += left[i] * left[i];
    products += left[i] * left[(i + 1) % left.size()];
  }
  const double r = squares > 0 ? std::clamp(products / squares, 0.0, 0.98) : 0.0;
  return static_cast<double>(left.size()) * (1 - r) / (1 + r);
}

}  // namespace

EllipticForm elliptic_form(const std::vector<Point>& points, const FittedCircle& circle) {
  std::vector<math::Polar> polar = math::polar_about(points, circle.centre_x_m, circle.centre_y_m);
  std::sort(polar.begin(), polar.end(),
            [](const math::Polar& a, const math::Polar& b) { return a.angle_rad < b.angle_rad; });
  math::Matrix a(polar.size(), 5);
  std::vector<double> radii;
  for (size_t i = 0; i < polar.size(); ++i) {
    const double p = polar[i].angle_rad;
    a(i, 0) = 1, a(i, 1) = std::cos(p), a(i, 2) = std::sin(p), a(i, 3) = std::cos(2 * p), a(i, 4) = std::sin(2 * p);
    radii.push_back(polar[i].radius_m - circle.radius_m);
  }
  // A perfect circle leaves rounding alone: how many digits of nothing hold is not asked.
  const auto fit = math::solve_least_squares(a, radii, {}, {.needed_error = 1e6});
  base::check(fit.state == math::FitState::solved, "the angles of a circle tell five coefficients: " + fit.reason);
  std::vector<double> left = radii;
  for (size_t i = 0; i < left.size(); ++i)
    for (size_t k = 0; k < 5; ++k) left[i] -= a(i, k) * fit.coefficients[k];
  const double count = static_cast<double>(left.size()), free = std::max(6.0, independent_count(left));
  return {.square_part_m = fit.coefficients[4],
          .scale_part_m = fit.coefficients[3],
          .square_part_uncertainty_m = fit.standard_errors[4] * std::sqrt(std::max(1.0, (count - 5) / (free - 5))),
          .degrees = free - 5};
}

namespace {

// What both directions tell together, about the centre of all their points.
void add_both(const CircleRun& run, CircleResult& out) {
  std::vector<Point> all = run.anticlockwise;
  all.insert(all.end(), run.clockwise.begin(), run.clockwise.end());
  const CircleFit fit = fit_circle(all);
  base::check(fit.found, "two circles make one");
  out.bidirectional_m = fit.circle.deviation_m;
  out.hysteresis_m = math::largest_radial_difference(run.anticlockwise, run.clockwise, fit.circle.centre_x_m,
                                                     fit.circle.centre_y_m, 360);
}

}  // namespace

CircleResult from_circle(const CircleRun& run) {
  CircleResult out{.name = run.where.name};
  std::vector<Source> sources;
  std::vector<EllipticForm> forms;
  const auto add = [&](const char* name, const std::vector<Point>& points, FittedCircle& circle) {
    if (points.empty()) return;
    const CircleFit fit = fit_circle(points);
    base::check(fit.found, "the points make a circle");
    circle = fit.circle;
    forms.push_back(elliptic_form(points, circle));
    sources.push_back({{.name = name,
                        .value = forms.back().square_part_m,
                        .standard_uncertainty = forms.back().square_part_uncertainty_m,
                        .degrees = forms.back().degrees},
                       ""});
  };
  add("form, anticlockwise", run.anticlockwise, out.anticlockwise);
  add("form, clockwise", run.clockwise, out.clockwise);
  const bool both = forms.size() == 2;
  sources.push_back({math::rectangular("radius reading", 0, run.reading_error_m), ""});
  if (!both) sources.push_back({math::rectangular("unequal lags", 0, run.lag_error_m), ""});
  const double radius = run.radius_m;
  const math::Model model = [both, radius](const std::vector<double>& v) {
    return -2 * (both ? (v[0] + v[1]) / 2 + v[2] : v[0] + v[1] + v[2]) / radius;
  };
  out.observation = observe("circle", run.where.name, run.where.x_m, model, sources);
  for (const EllipticForm& form : forms)
    out.scale_mismatch += 2 * form.scale_part_m / radius / static_cast<double>(forms.size());
  if (both) {
    out.lag_part_m = (forms[0].square_part_m - forms[1].square_part_m) / 2;
    add_both(run, out);
  }
  return out;
}

}  // namespace evenbeam::squareness
