#pragma once
// Gains, filters and biquads by constrained descent from a start that already holds.
// Least: energy of the skew error after a step of fight (a friction reversal; a share that is wrong under
// acceleration), and of the mean error after a step of both forces, by Parseval:
//   E_s = int |dx_A - dx_B|^2 / w^2 dw,  [dx_A dx_B] = (I + G C)^-1 G [1, -1]
//   cost = log E_s + 0.3 log E_m, mean of the cases        (skew first; 0.3 is a choice, no source)
// Subject to: sigma_max of the sensitivity (tuning/sensitivity.h) <= limit at every line of every case, and output
// noise of the quantised feedback <= limit; with both loops' gains times 0.6 and 1.6 to a wider limit. A line grid
// can miss a narrow peak: the caller checks with eigenvalues and a refined peak, adds what it found to the lines and
// asks again. That cost alone is flat: quite different settings do the same, and which of them a search ends at would
// hang on the last digits of the fit. So of settings that do nearly alike those are taken that leave the start least,
// which is a rule a person can follow: a gain or a time moves from it by a factor e only where that lowers the cost
// by 0.01 (0.5 % of the rms skew), a filter's frequency or depth only for 0.1 (5 %). The sum bends upwards in every
// direction, so that its lowest place moves smoothly with the fit; docs/loops.md says how far. Descent along exact
// slopes with a known curvature, limits as squares of what is above them, weighted more and more (search_slopes.h;
// common methods, from memory). Nothing is drawn: the same every time.
#include <string>
#include <vector>

#include "machine/settings.h"
#include "math/complex2x2.h"

namespace evenbeam::tuning {

inline constexpr double mean_weight = 0.3;

// One place and payload: responses in commanded newtons with the share its controller will hold there.
struct SearchCase {
  double share = 0.5;
  std::vector<double> hz;  // rising
  std::vector<math::Complex2x2> g;
  bool counts_for_cost = true;  // false: only the sensitivity is held (a measured response)
};
double line_width_hz(const std::vector<double>& hz, size_t line);

// What a person may change at the controller without asking again, and how wrong a force constant may be.
inline constexpr double least_gain = 0.6, most_gain = 1.6;

struct SearchLimits {
  double sensitivity = 1.6;
  double other_gain_sensitivity = 2.2;  // of the cases that count, both loops' gains times 0.6 and 1.6; own rule
  double noise_n = 1e9;                 // rms of a side's output
  double count_a_m = 0, count_b_m = 0;
};

struct SearchScore {
  double cost = 0;
  double sensitivity = 0, at_hz = 0;
  double noise_n = 0;  // rms, the worse side; white noise of count/sqrt(12) on each position
};
SearchScore score(const std::vector<SearchCase>& cases, const machine::Settings& settings,
                  const SearchLimits& limits);

struct SearchResult {
  machine::Settings settings;
  SearchScore before, after;  // of start and settings
  int tried = 0;              // settings asked
};
// Goes on from `from` (the start itself, or what was found before more lines were known); both with as many filters.
// Limits are kept to four parts in a thousand; `after` says.
SearchResult search_gains(const std::vector<SearchCase>& cases, const machine::Settings& start,
                          const machine::Settings& from, const SearchLimits& limits);

}  // namespace evenbeam::tuning
