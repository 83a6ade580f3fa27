#pragma once
// Are the residuals of a response fit white? Correlation of each line's normalised miss with the next line's:
//   rho = Re sum_i sum_k m_ik conj(m_(i+1)k) / sqrt(sum |m_ik|^2 sum |m_(i+1)k|^2)      (real part of lag one)
// For independent circular misses rho has deviation 1/sqrt(2 n), n the products summed; entries of one column come of
// one recording and are counted as one (n = 2 (lines - 1)). Derived here. Misses beyond 3 count as 3 in size, as in
// the fit.
#include <vector>

#include "identification/grey_box_model.h"

namespace evenbeam::identification {

struct Whiteness {
  double correlation = 0;
  double white_within = 1;  // 95 %
};
Whiteness line_whiteness(const std::vector<Sides>& misses);

}  // namespace evenbeam::identification
