#pragma once
// Inner part of grey_box.h: the lines of a measured response that a fit stands on, with their standard deviations.
//   sigma^2 = max(own variance, mean variance of the lines near by) + (0.01 |G|)^2 + (0.003 largest entry)^2
// Two to eight periods tell a line's own variance to a factor of two at best. Weighed and chosen by it, noisy lines
// that came out large stay and those that came out small go, which a current lag and a delay take up: so weight and
// choice are by the neighbourhood. The last two terms: a lumped model is not exact.
#include <array>
#include <vector>

#include "identification/grey_box_model.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

struct GreyLine {
  double hz = 0;
  Sides g{};                      // m/N, hold taken out
  std::array<double, 4> sigma{};  // of the entries, m/N: root of E|error|^2
};
// Lines that carry information: `used` evenly in log frequency, `held_out` those that thinning leaves, on which the
// fit is judged.
struct LineChoice {
  std::vector<GreyLine> used, held_out;
};
// `hold_s`: servo period, 0 where unknown.
LineChoice choose_lines(const signal::Response& response, double hold_s);

}  // namespace evenbeam::identification
