#include "identification/robust_regression.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>

#include "base/near_test.h"
#include "identification/row_sums.h"

namespace evenbeam::identification {
namespace {

const double kNone = std::numeric_limits<double>::infinity();

// y = 2 + 3 t with errors that are equal within each cluster of ten rows: far from independent.
Regression clustered(unsigned seed) {
  std::mt19937 random(seed);
  const auto uniform = [&] { return random() / 4294967296.0 - 0.5; };
  Regression p;
  const int clusters = 60, rows = 10;
  p.a.resize(clusters * rows, 2);
  p.y.resize(clusters * rows);
  for (int c = 0; c < clusters; ++c) {
    const double shared = 2 * uniform();
    const double t = uniform();
    for (int i = 0; i < rows; ++i) {
      p.a.row(c * rows + i) << 1, t;
      p.y[c * rows + i] = 2 + 3 * t + shared;
      p.group.push_back(0);
      p.cluster.push_back(c);
    }
  }
  p.groups = 1;
  p.prior_mean = {0, 0};
  p.prior_sd = {kNone, kNone};
  return p;
}

}  // namespace

TEST_CASE("intervals hold the truth although the rows of a cluster share their error") {
  int held = 0;
  const int trials = 400;
  for (unsigned seed = 0; seed < trials; ++seed) {
    const RegressionResult r = solve(clustered(seed));
    REQUIRE(r.done);
    held += std::abs(r.x[1] - 3) < 1.96 * std::sqrt(r.covariance(1, 1));
  }
  CAPTURE(held);
  CHECK(held > 0.91 * trials);
  CHECK(held < 0.985 * trials);
}

TEST_CASE("an unknown without data takes the papers' value and says that it did") {
  Regression p = clustered(1);
  p.a.conservativeResize(Eigen::NoChange, 3);
  p.a.col(2).setZero();
  p.prior_mean = {0, 0, 7};
  p.prior_sd = {kNone, kNone, 0.5};
  const RegressionResult r = solve(p);
  REQUIRE(r.done);
  CHECK(r.x[2] == base::test::near(7));
  CHECK(std::sqrt(r.covariance(2, 2)) == base::test::near(0.5));
  CHECK(r.from_data[2] < 0.01);
  CHECK(r.from_data[1] == 1);
}

TEST_CASE("a noisy group is weighted down") {
  Regression p = clustered(3);
  const Eigen::Index half = p.y.size() / 2;
  for (Eigen::Index i = 0; i < half; ++i) {
    p.group[static_cast<size_t>(i)] = 1;
    p.y[i] += (i % 20 < 10 ? 100 : -100);
  }
  p.groups = 2;
  const RegressionResult r = solve(p);
  REQUIRE(r.done);
  CHECK(r.group_sd[1] > 50 * r.group_sd[0]);
  CHECK(std::abs(r.x[1] - 3) < 1.5);
}

TEST_CASE("too few rows is a plain no") {
  Regression p = clustered(1);
  p.a.conservativeResize(1, Eigen::NoChange);
  p.y.conservativeResize(1);
  p.group.resize(1);
  p.cluster.resize(1);
  const RegressionResult r = solve(p);
  CHECK_FALSE(r.done);
  CHECK(r.reason == "fewer rows than unknowns");
}

TEST_CASE("what is known better is held against rows with errors in their columns, and its uncertainty carried on") {
  // y = 5 s + 2 t; s is read with an error as large as itself, so that rows alone tell about half of 5.
  std::mt19937 random(4);
  const auto uniform = [&] { return random() / 4294967296.0 - 0.5; };
  Regression p = clustered(4);
  for (Eigen::Index i = 0; i < p.y.size(); ++i) {
    const double s = uniform(), t = uniform();
    p.a.row(i) << s + uniform(), t;
    p.y[i] = 5 * s + 2 * t;
  }
  const RegressionResult pulled = solve(p);
  REQUIRE(pulled.done);
  CHECK(pulled.x[0] < 3);
  p.known_rows = Eigen::MatrixXd::Zero(1, 2);
  p.known_rows(0, 0) = 1;
  p.known_value = Eigen::VectorXd::Constant(1, 5.1);
  p.known_covariance = Eigen::MatrixXd::Constant(1, 1, 0.01);
  const RegressionResult r = solve(p);
  REQUIRE(r.done);
  CHECK(r.x[0] == base::test::near(5.1).epsilon(0.02));
  CHECK(std::sqrt(r.covariance(0, 0)) == base::test::near(0.1).epsilon(0.1));
  CHECK(std::abs(r.x[1] - 2) < 3 * std::sqrt(r.covariance(1, 1)));
}

TEST_CASE("sums over rows state the covariance that solving states, and twice the rows halve it") {
  Regression p = clustered(5);
  p.prior_mean = {0, 0};
  p.prior_sd = {kNone, 40};
  const RegressionResult r = solve(p);
  REQUIRE(r.done);
  const Eigen::VectorXd weights = Eigen::VectorXd::Constant(p.y.size(), 1 / r.group_sd[0]);
  const Eigen::Index half = p.y.size() / 2;
  const RowSums all = row_sums(p, weights, r.x, 0, p.y.size()), first = row_sums(p, weights, r.x, 0, half),
                rest = row_sums(p, weights, r.x, half, p.y.size());
  CHECK((covariance_from_sums(p, all.normal, all.scores) - r.covariance).norm() < 1e-9 * r.covariance.norm());
  CHECK((first.normal + rest.normal - all.normal).norm() < 1e-12 * all.normal.norm());
  const Eigen::MatrixXd twice = covariance_from_sums(p, 2 * all.normal, 2 * all.scores);
  for (int j = 0; j < 2; ++j) CHECK(twice(j, j) == base::test::near(r.covariance(j, j) / 2).epsilon(0.01));
}

}  // namespace evenbeam::identification
