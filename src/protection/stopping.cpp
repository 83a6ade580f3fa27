#include "protection/stopping.h"

#include <algorithm>

namespace evenbeam::protection {

double curtain_distance_m(double stopping_time_s, double resolution_m) {
  constexpr double hand = 2.0, walk = 1.6;                                     // m/s
  constexpr double finest = 0.014, coarsest = 0.040, least = 0.1, near = 0.5;  // m
  if (resolution_m > coarsest) return walk * stopping_time_s + 0.85;
  const double reach = std::max(0.0, 8 * (resolution_m - finest));
  const double quick = std::max(least, hand * stopping_time_s + reach);
  return quick > near ? std::max(near, walk * stopping_time_s + reach) : quick;
}

double operations_per_year(double days, double hours_a_day, double cycle_s) {
  return days * hours_a_day * 3600 / cycle_s;
}
double years_to_dangerous_failure(double b10d, double operations_a_year) { return b10d / (0.1 * operations_a_year); }

}  // namespace evenbeam::protection
