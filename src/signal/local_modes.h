#pragma once
// Frequency, damping and shape of one mode, read from the measured 2x2 response near where it is expected. No model
// of the machine: within a window about the peak, accelerance H = -omega^2 G is
//   H_e(jw) ~ sum_k R_ek/(jw - p_k) + B_e + D_e x,    x from -1 to 1 over the window, e = aa, ab, ba, bb
// with p_k the mode and its neighbours, R_ek, B_e, D_e complex. What lies farther off, the mirrored pole and a dead
// time's turning phase are smooth there and go into B and D. By Gauss-Newton on the p_k that lie inside the window,
// the rest solved for at each step (variable projection, Golub and Pereyra 1973, from memory).
//   hz = |p|/2 pi,  damping = -Re p/|p|;  E|dp|^2 = (J'J)^-1 max(1, mean square left)
// A window is a choice; the largest step of the answer to a narrower and to a wider one joins its deviation.
#include <string>
#include <vector>

#include "signal/frequency_response.h"

namespace evenbeam::signal {

struct LocalMode {
  bool done = false;
  std::string reason;  // where not
  double hz = 0, hz_sd = 0;
  double damping = 0, damping_sd = 0;  // ratio
  math::Complex shape_a, shape_b;      // relative motion of the ends, the larger one = 1
  double shape_sd = 0;                 // of the smaller one
  double from_hz = 0, to_hz = 0;       // window
  std::size_t lines = 0;
};

// `expected`: poles of all modes known of, rad/s, imaginary part > 0; the one asked for is at `which`.
LocalMode read_mode(const Response& sides, const std::vector<math::Complex>& expected, std::size_t which);

}  // namespace evenbeam::signal
