#pragma once
// Weighted linear regression for rows that are not independent of each other.
//   minimise  sum_i ((y_i - A_i x)/s_group(i))^2 + sum_j ((x_j - m_j)/p_j)^2
// s_group is the residual spread of each group of rows (one recording, one equation), found by iteration; m_j, p_j
// are what the papers say and how far to trust them (p_j infinite: nothing). Covariance: sandwich over clusters of
// neighbouring rows, so that coloured residuals and small model errors widen the interval instead of being averaged
// away; never narrower than the classical one. Source: White 1980; Liang and Zeger 1986 (cluster form); from memory.
#include <Eigen/Core>
#include <functional>
#include <string>
#include <vector>

namespace evenbeam::identification {

struct Regression {
  Eigen::MatrixXd a;  // rows x unknowns
  Eigen::VectorXd y;
  std::vector<int> group;                    // a row's weight group, 0..groups-1
  std::vector<int> cluster;                  // rows that may share an error, ascending
  std::vector<double> prior_mean, prior_sd;  // per unknown; sd infinite = no prior
  int groups = 0;
  // Linear functions of the unknowns that something better than these rows has told: known_rows x = known_value with
  // known_covariance. They are held `known_trust` times tighter than their covariance in the solution, which then
  // carries that covariance on in full: rows with errors in their columns must not bargain with them.
  Eigen::MatrixXd known_rows, known_covariance;
  Eigen::VectorXd known_value;
  double known_trust = 20;
  // Where a column is made of the very quantity that y measures, it is filled from the prediction A x after every
  // pass (empty: A stays). Made of the measured y, its error would be that of y: shrinking both at once would pass
  // for a good fit, the more so as the groups' weights follow their residuals.
  std::function<void(Eigen::MatrixXd& a, const Eigen::VectorXd& predicted)> refresh;
};

struct RegressionResult {
  bool done = false;
  std::string reason = "nothing solved yet";
  Eigen::VectorXd x;
  Eigen::MatrixXd covariance;
  std::vector<double> group_sd;   // residual spread, unit of y
  std::vector<double> from_data;  // per unknown, see math/estimate.h; 1 where there is no prior
  double condition = 0;           // of the weighted, column-scaled data alone (no priors)
  int clusters = 0;
};

RegressionResult solve(Regression problem);
// `from_data` anew, after the covariance was widened.
void retell(RegressionResult& result, const std::vector<double>& prior_sd);

}  // namespace evenbeam::identification
