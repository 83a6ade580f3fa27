#pragma once
// Each capture foretold by the motion fit of all others: is the law one for all, or do captures contradict each
// other?
//   error    = root mean square of y - A x_others over the capture's rows, sum of forces and fight apart
//   expected = root of (mean of a' C_others a + s^2), s the scatter of those errors about their mean of each way
// so that ripple and noise of a rough capture are no contradiction, and a steady force or another friction is one.
// The weights stay those of the fit of all, so that one set of normal equations serves all captures:
//   N_others = sum of A'WA over the others + what is known,  C = N^-1 (sum of cluster scores + what is known) N^-1.
// Own zeros: a switch-on that no other capture shares has its fight offset from its own rows (their mean is taken
// out). Derived here; the rows, the window and the response are those of the fit.
#include <string>
#include <vector>

#include "identification/motion_fit.h"
#include "identification/motion_rows.h"
#include "recording/recording.h"

namespace evenbeam::identification {

struct HeldOutCapture {
  std::string recording;
  double from_s = 0, to_s = 0;
  int rows = 0;                                    // of each equation
  double sum_error_n = 0, sum_expected_n = 0;      // F_A + F_B, commanded newtons
  double fight_error_n = 0, fight_expected_n = 0;  // (F_A - F_B)/2
  double sum_n = 0, fight_n = 0;                   // root mean square of what was measured
};
// How many times what is expected the worse of the two is.
double times_expected(const HeldOutCapture& capture);

// `rows`: those of the window of `fit`. Empty where fewer than two captures hold rows. Captures with fewer than
// `least_rows` are not judged.
std::vector<HeldOutCapture> leave_one_capture_out(const MotionRows& rows, const MotionFit& fit,
                                                  const std::vector<recording::Recording>& recordings,
                                                  const ResponseKnowledge& response, double span_m,
                                                  int least_rows = 20);

}  // namespace evenbeam::identification
