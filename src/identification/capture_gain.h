#pragma once
// What a capture that nobody has made yet would tell: the same numbers with the intervals to expect after it. Fisher
// information of its foreseen rows, added to that of the captures at hand (Ljung, System Identification, ch. 13, from
// memory); docs/equations.md, "The next capture".
//   motion:    C' = N'^-1 (B + D N_c D + P) N'^-1,  N' = N + N_c + P;  N_c = A_c' W A_c of the foreseen rows, weighed
//              as captures of that kind were left unexplained so far; B the clusters' scores of those at hand,
//              D_j^2 = B_jj/N_jj: rows scatter together as they did; P papers and response
//   response:  its noise variance by 1/(1 + gain), its lines chosen anew, allowances of a lumped model as they are;
//              parameter j by sqrt((J'J)'^-1_jj/(J'J)^-1_jj)
// What the fit added beyond its rows' scatter (windows, instruments, floors) is kept: no capture is promised to
// narrow that. Assumes that the capture goes as foreseen, after a switch-on of its own.
#include <vector>

#include "identification/identify.h"

namespace evenbeam::identification {

struct ForeseenCapture {
  std::vector<recording::Recording> rows;  // positions and forces to expect; kind, carriage place and payload stated
  double response_gain = 0;  // information on the measured response that it adds, in parts of what is there
};

class CaptureGain {
 public:
  CaptureGain(const Identified& now, const std::vector<recording::Recording>& recordings,
              const machine::Machine& machine);
  Identified after(const ForeseenCapture& capture) const;

 private:
  GreyFit grey_after(double response_gain) const;

  const Identified& now_;
  const std::vector<recording::Recording>& recordings_;
  const machine::Machine& machine_;
  LocalMotions motions_;                   // of the captures at hand, in the window that the fit chose
  MotionRows rows_;                        // of the captures at hand, in the window that the fit chose
  RegressionResult solved_;                // on them
  std::vector<double> sum_sd_, fight_sd_;  // left unexplained by each capture at hand, N; 0 where it has no rows
};

}  // namespace evenbeam::identification
