#include "math/least_squares.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"

using namespace evenbeam::math;

namespace {
// A small repeatable scatter in -1..1, good enough to spread rows.
double scatter(std::size_t i) {
  return std::fmod(static_cast<double>((i * 7919 + 104729) % 10007) / 5003.5, 2.0) - 1;
}
}  // namespace

TEST_CASE("a straight line by hand: 1, 3, 2, 5 at 0, 1, 2, 3") {
  Matrix a(4, 2, 1.0);
  const std::vector<double> y = {1, 3, 2, 5};
  for (std::size_t i = 0; i < 4; ++i) a(i, 1) = static_cast<double>(i);
  const auto fit = solve_least_squares(a, y);
  REQUIRE(fit.state == FitState::solved);
  // slope = 5.5/5, intercept = 2.75 - 1.65, RSS = 8.75 - 1.1 * 5.5, s^2 = 1.35, var(slope) = s^2 / 5.
  CHECK(fit.coefficients[1] == evenbeam::base::test::near(1.1).epsilon(1e-14));
  CHECK(fit.coefficients[0] == evenbeam::base::test::near(1.1).epsilon(1e-14));
  CHECK(fit.residual_sum_of_squares == evenbeam::base::test::near(2.7).epsilon(1e-13));
  CHECK(fit.standard_errors[1] == evenbeam::base::test::near(std::sqrt(0.27)).epsilon(1e-13));
  CHECK(fit.covariance(0, 1) == evenbeam::base::test::near(-1.5 * 0.27).epsilon(1e-13));
  CHECK(fit.r_squared == evenbeam::base::test::near(1 - 2.7 / 8.75).epsilon(1e-13));
  CHECK(fit.degrees_of_freedom == 2);
}

TEST_CASE("a weight of 3 is the row three times over; a weight of 0 is no row") {
  Matrix a(5, 2, 1.0), repeated(6, 2, 1.0);
  const std::vector<double> y = {1, 3, 2, 5, 99}, weights = {1, 3, 1, 1, 0};
  for (std::size_t i = 0; i < 5; ++i) a(i, 1) = static_cast<double>(i * i);
  std::vector<double> y_repeated;
  for (std::size_t i = 0; i < 4; ++i)
    for (int times = 0; times < static_cast<int>(weights[i]); ++times) {
      repeated(y_repeated.size(), 1) = a(i, 1);
      y_repeated.push_back(y[i]);
    }
  const auto once = solve_least_squares(a, y, weights), many = solve_least_squares(repeated, y_repeated);
  REQUIRE(once.state == FitState::solved);
  for (std::size_t j = 0; j < 2; ++j)
    CHECK(once.coefficients[j] == evenbeam::base::test::near(many.coefficients[j]).epsilon(1e-13));
  CHECK(once.residual_sum_of_squares == evenbeam::base::test::near(many.residual_sum_of_squares).epsilon(1e-12));
  CHECK(once.r_squared == evenbeam::base::test::near(many.r_squared).epsilon(1e-12));
  CHECK(once.degrees_of_freedom == 2);
}

TEST_CASE("with known variances the covariance does not follow the residual") {
  Matrix a(8, 1, 1.0);
  const std::vector<double> y = {1, 1, 1, 1, 1, 1, 1, 1}, weights(8, 4.0);  // each with sd 1/2
  LeastSquaresOptions options;
  options.known_variance = true;
  const auto fit = solve_least_squares(a, y, weights, options);
  REQUIRE(fit.state == FitState::solved);
  CHECK(fit.standard_errors[0] == evenbeam::base::test::near(0.5 / std::sqrt(8.0)).epsilon(1e-14));
}

TEST_CASE("columns that are the same thing are named, and nothing is printed") {
  Matrix a(20, 4);
  std::vector<double> y(20);
  for (std::size_t i = 0; i < 20; ++i) {
    a(i, 0) = 1;
    a(i, 1) = scatter(i);
    a(i, 2) = scatter(3 * i + 1);
    a(i, 3) = 1e6 * (a(i, 1) + 2 * a(i, 2));  // another unit, but nothing new
    y[i] = a(i, 1);
  }
  const auto fit = solve_least_squares(a, y);
  CHECK(fit.state == FitState::cannot_tell);
  CHECK(fit.weak_coefficients == std::vector<std::size_t>{1, 2, 3});
  // Along the weak direction nothing changes: A v = 0.
  for (std::size_t i = 0; i < 20; ++i) {
    double moved = 0;
    for (std::size_t j = 0; j < 4; ++j) moved += a(i, j) * fit.weak_direction[j];
    CHECK(std::abs(moved) < 1e-12);
  }
  CHECK(std::isnan(fit.coefficients[0]));
}

TEST_CASE("a zero intercept is an answer, not a loss of digits") {
  Matrix a(10, 2, 1.0);
  std::vector<double> y(10);
  for (std::size_t i = 0; i < 10; ++i) y[i] = 2 * (a(i, 1) = static_cast<double>(i));
  const auto fit = solve_least_squares(a, y);
  REQUIRE(fit.state == FitState::solved);
  CHECK(std::abs(fit.coefficients[0]) < 1e-13);
  CHECK(fit.coefficients[1] == evenbeam::base::test::near(2).epsilon(1e-14));
}

TEST_CASE("bad input is an honest no") {
  Matrix a(3, 2, 1.0);
  a(1, 1) = 2;
  CHECK(solve_least_squares(a, std::vector<double>{1, std::nan(""), 3}).state == FitState::not_finite);
  CHECK(solve_least_squares(a, std::vector<double>{1, 2, 3}, std::vector<double>{1, 0, 0}).state ==
        FitState::too_few_rows);
  CHECK(solve_least_squares(a, std::vector<double>{1, 2, 3}, std::vector<double>{1, -1, 1}).state ==
        FitState::not_finite);
  CHECK(LeastSquaresResult{}.state == FitState::not_done);
}

TEST_CASE("rows folded in blocks give what the whole matrix gives") {
  const std::size_t rows = 5000, columns = 6;
  Matrix a(rows, columns);
  std::vector<double> y(rows), weights(rows), row(columns);
  RowFolder folder(columns);
  for (std::size_t i = 0; i < rows; ++i) {
    for (std::size_t j = 0; j < columns; ++j)
      row[j] = a(i, j) = j == 0 ? 1.0 : std::pow(1000.0, static_cast<double>(j) - 3) * scatter(i * (j + 2) + j * j);
    y[i] = 3 + a(i, 1) * 1e6 - a(i, 4) / 1e3 + 0.1 * scatter(17 * i);
    weights[i] = 1 + scatter(i) / 2;
    folder.add(row, y[i], weights[i]);
  }
  const auto whole = solve_least_squares(a, y, weights), folded = folder.solve();
  REQUIRE(whole.state == FitState::solved);
  REQUIRE(folded.state == FitState::solved);
  for (std::size_t j = 0; j < columns; ++j) {
    CHECK(std::abs(folded.coefficients[j] - whole.coefficients[j]) < 1e-10 * whole.standard_errors[j]);
    CHECK(folded.standard_errors[j] == evenbeam::base::test::near(whole.standard_errors[j]).epsilon(1e-11));
  }
  CHECK(folded.r_squared == evenbeam::base::test::near(whole.r_squared).epsilon(1e-11));
  CHECK(folded.residual_sd == evenbeam::base::test::near(whole.residual_sd).epsilon(1e-11));
  CHECK(folded.degrees_of_freedom == whole.degrees_of_freedom);
}
