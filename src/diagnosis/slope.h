#pragma once
// The straight line through places or times that a criterion asks for, with its doubt.
#include <vector>

#include "math/estimate.h"

namespace evenbeam::diagnosis {

double mean(const std::vector<double>& v);  // of at least one
// Least-squares slope with its 95 % interval by Student's factor, n - 2 degrees of freedom, places as independent
// readings; at least three.
math::Estimate slope(const std::vector<double>& x, const std::vector<double>& y);

}  // namespace evenbeam::diagnosis
