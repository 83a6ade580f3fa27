#include "squareness/ball_plate.h"

#include <cmath>

#include "base/check.h"
#include "math/least_squares.h"

namespace evenbeam::squareness {
namespace {

// e is first order in the four entries of A: with a nearly orthogonal A of columns a_1, a_2 of length near 1,
// de = -(a_2 . da_1 + a_1 . da_2). `inverse` is the covariance of (shift, x, y) for unit variance.
double sensitivity_square(const math::Matrix& inverse, const double a1[2], const double a2[2]) {
  double sum = 0;
  for (int i = 0; i < 2; ++i)  // the two coordinates of the truth are fitted apart from each other
    sum += a2[i] * a2[i] * inverse(1, 1) + a1[i] * a1[i] * inverse(2, 2) + 2 * a1[i] * a2[i] * inverse(1, 2);
  return sum;
}

}  // namespace

PlateFit fit_plate(const BallPlate& plate) {
  PlateFit out;
  const size_t count = plate.true_x_m.size();
  math::Matrix design(count, 3);
  for (size_t i = 0; i < count; ++i)
    design(i, 0) = 1, design(i, 1) = plate.shown_x_m[i], design(i, 2) = plate.shown_y_m[i];
  // Known variance of one: the covariance then carries the places of the balls alone, and a plate without any scatter
  // has digits enough.
  const math::LeastSquaresOptions options{.known_variance = true};
  const auto x = math::solve_least_squares(design, plate.true_x_m, {}, options);
  const auto y = math::solve_least_squares(design, plate.true_y_m, {}, options);
  if (x.state != math::FitState::solved || y.state != math::FitState::solved) {
    out.reason = x.state != math::FitState::solved ? x.reason : y.reason;
    return out;
  }
  const double a1[2] = {x.coefficients[1], y.coefficients[1]}, a2[2] = {x.coefficients[2], y.coefficients[2]};
  const double lengths = std::hypot(a1[0], a1[1]) * std::hypot(a2[0], a2[1]);
  const double sine = -(a1[0] * a2[0] + a1[1] * a2[1]) / lengths;
  const double squares = x.residual_sum_of_squares + y.residual_sum_of_squares;
  out.degrees = 2 * static_cast<double>(count) - 6;
  out.found = std::isfinite(sine) && std::abs(sine) < 1;
  if (!out.found) {
    out.reason = "the balls do not span a plane";
    return out;
  }
  out.out_of_square_rad = std::asin(sine);
  out.standard_uncertainty_rad =
      std::sqrt(squares / out.degrees * sensitivity_square(x.covariance, a1, a2)) / lengths;
  out.mirrored = a1[0] * a2[1] - a1[1] * a2[0] < 0;
  return out;
}

Observation from_ball_plate(const BallPlate& plate) {
  const PlateFit fit = fit_plate(plate);
  base::check(fit.found, "a plate that was read can be fitted: " + fit.reason);
  const std::string shared =
      plate.where.instrument.empty() ? plate.where.name : "ball plate " + plate.where.instrument;
  return observe("ball plate", plate.where.name, plate.where.x_m,
                 [](const std::vector<double>& v) { return v[0] + v[1]; },
                 {{{.name = "balls as touched",
                    .value = fit.out_of_square_rad,
                    .standard_uncertainty = fit.standard_uncertainty_rad,
                    .degrees = fit.degrees},
                   ""},
                  {math::rectangular("the plate's right angle", 0, plate.plate_error_rad), shared}});
}

}  // namespace evenbeam::squareness
