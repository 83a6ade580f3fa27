#pragma once
// Round places for the marks of an axis. Linear: steps of 1, 2 or 5 times a power of ten, as integer multiples, so
// that no tick shows rounding dirt. Logarithmic: decades, with 2 and 5 between where few decades are shown.
#include <string>
#include <vector>

namespace evenbeam::report {

struct Tick {
  double at = 0;
  std::string label;  // empty: a minor mark
};

struct Ticks {
  std::vector<Tick> ticks;
  int power = 0;  // labels are to be read times 10^power (a multiple of 3; 0 for ordinary sizes)
};

// lo < hi, finite; about `wanted` labelled ticks, all inside lo..hi.
Ticks linear_ticks(double lo, double hi, int wanted);
// 0 < lo < hi.
Ticks log_ticks(double lo, double hi, int wanted);

}  // namespace evenbeam::report
