#pragma once
// What one test move shows, without a model: errors of the sides, of mean and of skew, forces, fight, settling.
//   skew error   e_s = (x_A - x_B) - (r_A - r_B)        mean error  e_m = (x_A + x_B)/2 - (r_A + r_B)/2
//   a side's following error e_i = x_i - r_i             fight d = (F_A - F_B)/2, over the second half of each rest
//   correlation of e_A and e_B: sum of products about their means over the root of the sums of squares, all samples
// Counting noise: a position rounded to counts q is off by at most q/2 and by q/sqrt(12) in the root mean square, so
// a peak of e_s is known to +-(q_A + q_B)/2, and by the triangle inequality its RMS to +-sqrt((q_A^2 + q_B^2)/12).
// Settling into a half window w after the reference stops: the last sample outside, counted from the stop. Where that
// sample lies at the end of the rest (or of the file) the move has not settled: unknown, with the time it was
// watched. Missing samples (NaN) are left out.
#include <array>
#include <optional>
#include <vector>

#include "acceptance/strokes.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::acceptance {

struct Errors {
  std::vector<double> a_m, b_m, mean_m, skew_m;
};
Errors errors_of(const recording::Recording& recording);

struct PeakAndRms {
  double peak = 0, rms = 0;  // |.|; 0 where no samples
  std::size_t at = 0;        // sample of the peak
  std::size_t samples = 0;
};
PeakAndRms peak_and_rms(const std::vector<double>& x, std::size_t from, std::size_t to);
PeakAndRms peak_and_rms(const std::vector<double>& x, const std::vector<Phase>& phases, Phase phase);
// nullopt where either does not vary.
std::optional<double> correlation(const std::vector<double>& x, const std::vector<double>& y);

struct Settling {
  std::size_t stroke = 0;
  double stop_s = 0;                        // file time of the reference stop
  double watched_s = 0;                     // rest seen after it
  std::optional<double> mean_s, skew_s;     // into the window; nullopt = not within what was watched
  double mean_left_m = 0, skew_left_m = 0;  // |error| at the end of what was watched
};
// Time from `from` until |x| stays within `window` to `to`; nullopt where it is outside within the last tenth.
std::optional<double> settle_time_s(const std::vector<double>& x, std::size_t from, std::size_t to, double window,
                                    double period_s);

struct SideForce {
  double rms_n = 0, peak_n = 0;
  std::optional<double> rms, peak;  // parts of the peak force
  std::optional<double> rms_half;   // of `rms`, 95 %, by the scatter of the strokes (force_spread.h)
  double saturated = 0;             // share of samples within 0.5 % of the peak force
};

struct MoveMeasures {
  Phases phases;
  Errors errors;
  PeakAndRms skew, mean, error_a, error_b;
  std::array<PeakAndRms, 4> skew_by_phase;   // index: Phase
  double peak_doubt_m = 0, rms_doubt_m = 0;  // of the skew error, from counts
  std::optional<double> side_correlation;
  std::vector<Settling> settlings;  // one a stroke whose stop is seen
  std::optional<double> settle_s;   // worst of mean and skew over all stops; nullopt = one did not settle
  std::optional<double> settle_mean_s, settle_skew_s;  // the same for each alone
  double settle_at_least_s = 0;                        // longest watched without settling, where settle_s is unknown
  std::optional<SideForce> force_a, force_b;
  std::optional<double> standing_fight_n;  // the largest |d| of the rests, with its sign
  std::size_t fight_from = 0, fight_to = 0;
};

MoveMeasures measure(const recording::Recording& recording, const machine::Machine& machine, double settle_window_m);

}  // namespace evenbeam::acceptance
