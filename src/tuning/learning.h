#pragma once
// Learning from repeats: a skew feed-forward force improved from the last recording of the same move.
//   e_{j+1} = e_j + P (f_{j+1} - f_j),   P: closed-loop response from added fight force to skew error
//   f_{j+1} = Q (f_j - L e_j),  L = b conj(P^)/(|P^|^2 + r^2),  P^ the fitted plant's P
// Q falls from 1 at half `top_hz` to 0 at `top_hz` (no phase). Converges, each line's error shrinking in every trial,
// for every plant with |P/P^ - 1| < 1 where Q is not 0: 1 - L P = 1 - b k (P/P^), 0 < k < 1, b <= 1, lies inside the
// unit circle (docs/learning.md). `top_hz` is chosen so that the largest doubt of P over all that the fit allows
// jointly (joint_doubt.h; first order, held against plants of its surface, times 1.1) stays below 0.8; the factor of
// each trial follows. Before a trial its skew is bounded: |e_{j+1}(t)| <= |e_j + P^ df| + mean over lines |dP| |dF| +
// what doesn't repeat.
#include <complex>
#include <vector>

#include "tuning/move_forecast.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

struct LearningFilter {
  bool found = false;  // false: the fit knows the response too badly at every frequency
  double period_s = 0;
  size_t length = 0;  // of the transform, twice the move's
  double top_hz = 0;
  double contraction = 1;                      // largest |Q (1 - L P)| over lines and plants: < 1
  std::vector<std::complex<double>> response;  // P^ a line
  std::vector<double> doubt;                   // |P - P^| a line, largest over the joint doubt
  std::vector<std::complex<double>> step;      // L
  std::vector<double> keep;                    // Q
};
// `samples` of the move at the settings' period.
LearningFilter learning_filter(const identification::Identified& identified, const machine::Settings& settings,
                               const Case& where, size_t samples);

struct NextTrial {
  std::vector<double> force_n;  // to be added to A and taken from B, one a period
  double bound_m = 0;           // the skew error of the trial stays below, if what moved the last one repeats
};
// From the last trial's skew error and added force (empty = none).
NextTrial next_trial(const LearningFilter& filter, const std::vector<double>& skew_error_m,
                     const std::vector<double>& force_n, double not_repeating_m);

struct Trial {
  double peak_skew_m = 0, bound_m = 0;  // bound: stated before the trial; 0 for the first
};
// Trials of a move on the virtual gantry with `plant`, learned with the fitted plant's filter.
std::vector<Trial> rehearse_learning(const ForecastMove& move, const dynamics::Plant& plant,
                                     const identification::Identified& identified, const machine::Settings& settings,
                                     int trials, const ForecastOptions& options);

}  // namespace evenbeam::tuning
