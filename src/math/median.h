#pragma once
// Middle of a sample: the mean of the two in the middle where their count is even. Not empty.
#include <algorithm>
#include <cstddef>
#include <vector>

namespace evenbeam::math {

inline double median(std::vector<double> x) {
  const auto middle = x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2);
  std::nth_element(x.begin(), middle, x.end());
  if (x.size() % 2 == 1) return *middle;
  return (*middle + *std::max_element(x.begin(), middle)) / 2;
}

}  // namespace evenbeam::math
