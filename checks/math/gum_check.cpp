// Worked examples of the GUM (JCGM 100:2008). Inputs of H.1 as read in a public re-computation, results from memory;
// data of H.3 read in two public re-computations, results from memory.
#include <doctest/doctest.h>

#include <cmath>

#include "math/gum.h"
#include "math/least_squares.h"
#include "math/student.h"

using namespace evenbeam::math;

namespace {

// H.1, end gauge: l = ls + d - ls (da theta + as dt); lengths in nm, temperatures in degC.
const Model end_gauge = [](const std::vector<double>& x) {
  const double ls = x[0], d = x[1] + x[2] + x[3], da = x[4], dt = x[5], theta = x[6] + x[7], as = x[8];
  return ls + d - ls * (da * theta + as * dt);
};

std::vector<UncertainInput> end_gauge_inputs() {
  return {{"standard", 50000623, 25, 18},
          {"comparison, repeated", 215, 5.8, 24},
          {"comparator, random", 0, 3.9, 5},
          {"comparator, systematic", 0, 6.7, 8},
          rectangular("expansion difference", 0, 1e-6, 50),
          rectangular("temperature difference", 0, 0.05, 2),
          {"mean temperature", -0.1, 0.2},
          arcsine("temperature cycle", 0, 0.5),
          rectangular("expansion", 11.5e-6, 2e-6)};
}

}  // namespace

TEST_CASE("GUM H.1, end gauge") {
  const auto budget = propagate(end_gauge, end_gauge_inputs());
  CHECK(std::abs(budget.value - 50000838) < 0.5);
  CHECK(std::abs(budget.contributions[0] - 25) < 0.01);
  CHECK(std::abs(std::hypot(budget.contributions[1], budget.contributions[2], budget.contributions[3]) - 9.682) <
        0.001);
  CHECK(std::abs(budget.contributions[4] - 2.887) < 0.001);
  CHECK(std::abs(budget.contributions[5] - 16.599) < 0.001);
  CHECK(std::abs(budget.standard_uncertainty - 31.66) < 0.01);     // printed 32
  CHECK(std::abs(budget.degrees - 16.75) < 0.05);                  // printed 16.7, then 16
  CHECK(std::abs(budget.second_order_uncertainty - 33.8) < 0.05);  // printed 34
  const double t = coverage_factor(0.99, std::floor(budget.degrees));
  CHECK(std::abs(t - 2.9208) < 1e-4);
  CHECK(std::abs(t * budget.standard_uncertainty - 92.5) < 0.5);  // printed 93
}

TEST_CASE("GUM H.1 by Monte Carlo agrees with the second order") {
  auto inputs = end_gauge_inputs();
  const auto run = monte_carlo(end_gauge, inputs, 200000, 20080901);
  CHECK(std::abs(run.mean - 50000838) < 0.5);
  CHECK(std::abs(run.standard_deviation - 33.8) < 0.3);
}

TEST_CASE("GUM H.3, thermometer calibration: line fitted, its value elsewhere with correlation") {
  const double t[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511};
  const double b[] = {-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160};
  Matrix a(11, 2, 1.0);
  for (std::size_t i = 0; i < 11; ++i) a(i, 1) = t[i] - 20;
  const auto fit = solve_least_squares(a, b);
  REQUIRE(fit.state == FitState::solved);
  CHECK(std::abs(fit.coefficients[0] - -0.17120) < 1e-5);
  CHECK(std::abs(fit.standard_errors[0] - 0.00288) < 1e-5);
  CHECK(std::abs(fit.coefficients[1] - 0.002183) < 1e-6);
  CHECK(std::abs(fit.standard_errors[1] - 0.000668) < 1e-6);
  CHECK(std::abs(fit.residual_sd - 0.003498) < 1e-6);
  Matrix r(2, 2, fit.covariance(0, 1) / (fit.standard_errors[0] * fit.standard_errors[1]));
  r(0, 0) = r(1, 1) = 1;
  CHECK(std::abs(r(0, 1) - -0.9304) < 1e-4);
  const auto at_30 = propagate(
      [](const std::vector<double>& y) { return y[0] + y[1] * (30 - 20); },
      {{"y1", fit.coefficients[0], fit.standard_errors[0]}, {"y2", fit.coefficients[1], fit.standard_errors[1]}}, r);
  CHECK(std::abs(at_30.value - -0.14938) < 1e-5);
  CHECK(std::abs(at_30.standard_uncertainty - 0.00414) < 1e-5);
}
