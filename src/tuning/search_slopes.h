#pragma once
// What the gain search descends on, with its slope by every setting (internal to tuning):
//   J(x) = cost + sum departure x^2 + penalty * B,   x: logarithms of the settings over those of the start
// cost as gain_search.h states it;  B = sum over cases of  int max(0, ln S^2 - ln limit^2)^2 d ln f  of both sides'
// sensitivity S, the same of both sides' noise and of the settings' own ranges.
// Infinite where S is beyond twice its limit: on the way from a stable loop to an unstable one S is infinite
// somewhere. Slopes of a line by the responses: line_slopes.h.
#include <Eigen/Core>
#include <vector>

#include "tuning/gain_search.h"
#include "tuning/search_settings.h"

namespace evenbeam::tuning {

struct SearchObjective {
  const std::vector<SearchCase>& cases;
  machine::Settings start;
  SearchLimits limits;
  double penalty = 1e3;
  double departure = 0.01, filter_departure = 0.1;  // gains and times; velocity filters and biquads
};
struct ObjectiveValue {
  double value = 0;       // infinite beyond twice the limit
  Eigen::VectorXd slope;  // by x; empty where infinite
  // What bends J most, positive definite: departures, the squares' second derivative by ln S^2 and the spread of the
  // lines' slopes within each energy; what ln S^2 and ln energies of single lines bend themselves is left out.
  Eigen::MatrixXd curvature;
};
ObjectiveValue objective(const SearchObjective& of, const Eigen::VectorXd& x);

}  // namespace evenbeam::tuning
