#pragma once
// Margins of one loop, L its open-loop response with negative feedback, on lines of rising frequency; between lines L
// is taken as straight in log frequency (a list measured coarsely is answered as coarsely).
//   gain:     factors k with 1 + k L = 0 next above and below 1          phase: angle of L + pi where |L| = 1
//   distance: least |1 + L|, one over the peak sensitivity
//   disk:     alpha = 1 / max |S - 1/2|, S = 1/(1 + L): gain and phase may change together by any complex factor in
//   the
//             disk whose real ends are (2 - alpha)/(2 + alpha) and (2 + alpha)/(2 - alpha), phase alone by
//             2 atan(alpha/2)   [Seiler, Packard, Gahinet, IEEE Control Systems 40(5), 2020, balanced disk]
// Assumes the closed loop is stable; that is for the caller to know (eigenvalues).
#include <limits>
#include <vector>

#include "math/complex2x2.h"

namespace evenbeam::math {

struct LoopMargins {
  double gain_up = std::numeric_limits<double>::infinity(), gain_up_at = 0;  // > 1; infinite where none
  double gain_down = 0;                                                      // < 1; 0 where none
  double phase_rad = std::numeric_limits<double>::infinity(), phase_at = 0;  // the smaller of lag and lead
  double distance = std::numeric_limits<double>::infinity(), distance_at = 0;
  double disk = std::numeric_limits<double>::infinity(), disk_at = 0;
};
// Frequencies in any unit; the same comes back in `..._at`.
LoopMargins loop_margins(const std::vector<double>& frequency, const std::vector<Complex>& open_loop);

struct DiskRange {
  double gain_low = 0, gain_high = std::numeric_limits<double>::infinity();
  double phase_rad = 0;
};
DiskRange disk_range(double alpha);

// Structured singular value of M for two independent complex scalars, exact:
//   mu = min over d of sigma_max(diag(d,1) M diag(1/d,1));  det is not moved by d, so the least Frobenius norm is the
//   least sigma_max: both off-diagonal entries at sqrt(|ab ba|).
double structured_value(const Complex2x2& m);

}  // namespace evenbeam::math
