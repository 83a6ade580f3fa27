#pragma once
// Periodic excitation: finding its period, cutting whole periods, leaving out the transient at the start.
// Period from the autocorrelation of the (mean-free, ramp-free) signal: the shortest lag at which it repeats itself
// as well as it does anywhere (within 2 %), refined to the best sample. Assumes the signal holds at least three
// periods.
#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace evenbeam::signal {

struct PeriodFound {
  bool found = false;
  double period_s = 0;
  double correlation = 0;  // of the signal with itself one period later, 0..1
  std::string reason;      // where not found
};

// `smallest_correlation`: below it the signal is called not periodic.
PeriodFound find_period(std::span<const double> signal, double sample_s, double shortest_s = 0.2,
                        double smallest_correlation = 0.7);

// Means of whole periods; NaN where a period holds a missing sample. The cheap first pass over a long recording.
std::vector<double> period_means(std::span<const double> signal, std::size_t samples_per_period);

// Drift over each period, per sample: how much later samples lie above the same samples one period earlier, averaged
// over a hundredth of a period at its ends. A ramp of that slope, taken out, closes the period's ends; the periodic
// part drops out of it exactly. Open ends would leak over all lines as 1/f and drown a small answer at high
// frequencies. NaN where neither the next nor the previous period is there.
std::vector<double> period_drifts(std::span<const double> signal, std::size_t samples_per_period);

// The signal's leading periods that still differ from what follows: root mean square of x(t + T) - x(t) (ramp taken
// out; about a thousand samples of each period) above three times the median over the later ones. At most half of
// all.
std::size_t transient_periods(std::span<const double> signal, std::size_t samples_per_period);

// Mean of whole periods and, sample by sample, the standard deviation of one period about it.
struct PeriodAverage {
  std::size_t periods = 0;       // whole, finite, after `skip`
  std::vector<double> mean, sd;  // sd NaN where fewer than two periods
};
PeriodAverage average_periods(std::span<const double> signal, std::size_t samples_per_period, std::size_t skip);

}  // namespace evenbeam::signal
