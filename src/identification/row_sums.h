#pragma once
// Inner part of robust_regression.h: its covariance from sums over rows, so that rows which are only foreseen can
// join those at hand.
#include "identification/robust_regression.h"

namespace evenbeam::identification {

// Rows as sums, for what they would tell together with others: A'WA, and over clusters the products of A'W residual.
struct RowSums {
  Eigen::MatrixXd normal, scores;
};
// Rows [from, to) with `weights` 1/s of every row, residuals about x.
RowSums row_sums(const Regression& problem, const Eigen::VectorXd& weights, const Eigen::VectorXd& x,
                 Eigen::Index from, Eigen::Index to);
// The covariance that solve() states for rows of these sums, with the priors and known functions of `problem`.
Eigen::MatrixXd covariance_from_sums(const Regression& problem, const Eigen::MatrixXd& normal,
                                     const Eigen::MatrixXd& scores);

}  // namespace evenbeam::identification
