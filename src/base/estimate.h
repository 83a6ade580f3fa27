#pragma once
// A number with its 95 % interval, as one station hands it to another. SI; the interval may be one point.

namespace evenbeam::base {

struct Estimate {
  double value = 0;
  double lower = 0, upper = 0;  // lower <= value <= upper
};

inline Estimate exactly(double value) { return {value, value, value}; }

}  // namespace evenbeam::base
