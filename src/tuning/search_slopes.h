#pragma once
// What the gain search descends on, with its slope by every setting (internal to tuning):
//   J(x) = cost + sum departure x^2 + penalty * B,   x: logarithms of the settings over those of the start
// cost as gain_search.h states it;  B = sum over cases of  int max(0, ln S^2 - ln limit^2)^2 d ln f  of both sides'
// sensitivity S, the same of both sides' noise and of the settings' own ranges.
// Infinite where S is beyond twice its limit: on the way from a stable loop to an unstable one S is infinite
// somewhere. Slopes, derived here: C = m (a 1') + s (d d'), a = [share, 1 - share]/2, d = [1, -1], so that each
// coordinate is of rank one, l r'. With M = I + G C, Z = M^-1, T = Z G, and N = I + C G scaled by peak forces:
//   d(u'T u) = -(u'T l)(r'T u) dc     d(C Z) = (I - C T) l r'Z dc     d ln det M = (r'T l) dc, of N the same
//   sigma_max(M)^2 = h + q, h = |M|_F^2/2, q^2 = h^2 - |det|^2;  S^2 = (h + q)/|det|^2
//   d ln S^2 = dh/q - |det|^2 d ln|det|^2/(2 q (h + q)) - d ln|det|^2,  dh = Re(r'M* G l dc)
#include <Eigen/Core>
#include <vector>

#include "tuning/gain_search.h"

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

Eigen::Index search_variables(const machine::Settings& start);
machine::Settings settings_at(const machine::Settings& start, const Eigen::VectorXd& x);
// x of settings with as many filters as the start.
Eigen::VectorXd logarithms(const machine::Settings& start, const machine::Settings& settings);
// The start with every setting well inside its range.
machine::Settings inside_ranges(machine::Settings start);

}  // namespace evenbeam::tuning
