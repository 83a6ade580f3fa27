#pragma once
// Plain measures of how a recording moves: travel, speed, how much of it is even, flat output pulses. No filters
// beyond differences over a few milliseconds.
#include <cstddef>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::recording {

struct Motion {
  double count_m = 1e-6;          // larger of both sides' counts seen; a micrometre where none was
  double reference_travel_m = 0;  // largest range of a reference
  double travel_m = 0;            // largest range of a position
  double top_speed_m_per_s = 0;   // of the mean reference, or of the mean position where there is no reference
  double even_part = 0;           // part of the moving time (over 5 % of top speed) at even speed (within 2 % of it)
  std::vector<double> speed_m_per_s;       // per sample, same source
  std::size_t even_from = 0, even_to = 0;  // samples of the longest stretch of even speed, rest counted
  double speed_at(std::size_t sample) const { return sample < speed_m_per_s.size() ? speed_m_per_s[sample] : 0; }
};
Motion motion_of(const Recording& recording);

// Highest minus lowest, NaN left out; 0 for an empty column.
double range_of(const std::vector<double>& values);
std::vector<double> difference(const std::vector<double>& a, const std::vector<double>& b);
// Index of the last value that is neither 0 nor NaN; 0 where there is none.
std::size_t last_nonzero(const std::vector<double>& values);

// An output made of constant levels: `flat` where it changes in under 2 % of the samples.
struct Pulses {
  bool flat = false;
  std::size_t count = 0;  // rises from zero
};
Pulses pulses_of(const std::vector<double>& force_n);

}  // namespace evenbeam::recording
