#pragma once
// A number with how well it is known. 95 % interval throughout the program.

namespace evenbeam::math {

struct Estimate {
  double value = 0;
  double sd = 0;                // standard uncertainty
  double lower = 0, upper = 0;  // 95 %
  // Part of the knowledge that came from the recordings rather than from the papers: 1 - (sd / sd of the prior)^2.
  // Below about one half the papers speak, not the machine.
  double from_data = 1;
};

inline Estimate with_sd(double value, double sd, double from_data = 1, double quantile = 1.959963984540054) {
  return {value, sd, value - quantile * sd, value + quantile * sd, from_data};
}

}  // namespace evenbeam::math
