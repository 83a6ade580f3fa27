#pragma once
// The best processor time of several runs, in seconds: neighbours on a shared machine count little.
#include <algorithm>
#include <ctime>

namespace evenbeam::bench {

template <class Work>
double best_s(int times, Work work) {
  double best = 1e300;
  for (int i = 0; i < times; ++i) {
    const std::clock_t start = std::clock();
    work();
    best = std::min(best, static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC);
  }
  return best;
}

template <class Work>
double best_ms(int times, Work work) {
  return 1e3 * best_s(times, work);
}

}  // namespace evenbeam::bench
