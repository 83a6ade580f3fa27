#pragma once
// Several measurements of squareness to one map along the rails, by weighted least squares:
//   minimise (y - A p)' V^-1 (y - A p),   cov(p) = (A' V^-1 A)^-1
// p: out of square at the places of the best-spread method (straight between them), A: where each observation stands
// between places, V: the budgets, with the errors that observations share off the diagonal. The one number is the
// mean along the measured way (trapezium rule). Consistency: the minimum is chi-square with rows - places degrees of
// freedom if the budgets are true. Beyond its 95 % point the methods disagree: all uncertainties are multiplied by
// sqrt(minimum / degrees), and the method whose removal lowers the minimum most is named [Birge ratio; both common
// practice, no source].
#include <optional>
#include <string>
#include <vector>

#include "squareness/observation.h"

namespace evenbeam::squareness {

struct Place {
  double x_m = 0;
  double value_rad = 0, standard_uncertainty_rad = 0, half_width_rad = 0;  // 95 %
};

struct Disagreement {
  std::string method;      // the one that stands out; with two methods alone, the first of them
  double against_rad = 0;  // how far it lies from what the others say at its places, mean
  bool two_only = false;   // nothing tells which of the two is wrong
};

struct Combined {
  bool known = false;
  double value_rad = 0, standard_uncertainty_rad = 0, half_width_rad = 0, degrees = 0;
  std::vector<Place> places;  // one, where nothing was measured along x; its x is then the mean of those stated, or 0
  bool along_x = false;       // two places or more
  double chi_square = 0, chi_square_limit = 0;  // limit: 95 % point; 0 where nothing can be compared
  long compared = 0;                            // degrees of freedom of the comparison
  double widened = 1;                           // factor on the uncertainties
  std::optional<Disagreement> disagreement;
  std::vector<double> weights;  // of each observation in the one number
};
Combined combine(const std::vector<Observation>& observations);

}  // namespace evenbeam::squareness
