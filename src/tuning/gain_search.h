#pragma once
// Gains, filters and biquads by constrained search from a start that already holds.
// Least: energy of the skew error after a step of fight (a friction reversal; a share that is wrong under
// acceleration), and of the mean error after a step of both forces, by Parseval:
//   E_s = int |dx_A - dx_B|^2 / w^2 dw,  [dx_A dx_B] = (I + G C)^-1 G [1, -1]
//   cost = log E_s + 0.3 log E_m, mean of the cases        (skew first; 0.3 is a choice, no source)
// Subject to: sigma_max of the sensitivity (tuning/sensitivity.h) <= limit at every line of every case, and output
// noise of the quantised feedback <= limit. A line grid can miss a narrow peak: the caller checks with eigenvalues
// and a refined peak, adds what it found to the lines and asks again. Search: (1+1) evolution, step by the one-fifth
// rule (Rechenberg 1973, from memory); seeded, the same every time.
#include <cstdint>
#include <string>
#include <vector>

#include "machine/settings.h"
#include "math/complex2x2.h"

namespace evenbeam::tuning {

// One place and payload: responses in commanded newtons with the share its controller will hold there.
struct SearchCase {
  double share = 0.5;
  std::vector<double> hz;  // rising
  std::vector<math::Complex2x2> g;
  bool counts_for_cost = true;  // false: only the sensitivity is held (a measured response)
};

struct SearchLimits {
  double sensitivity = 1.6;
  double noise_n = 1e9;  // rms of a side's output
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
  SearchScore before, after;
  int tried = 0;
};
SearchResult search_gains(const std::vector<SearchCase>& cases, const machine::Settings& start,
                          const SearchLimits& limits, int tries, std::uint64_t seed);

}  // namespace evenbeam::tuning
