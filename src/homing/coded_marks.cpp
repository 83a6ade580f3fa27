#include "homing/coded_marks.h"

#include <cstdlib>

namespace evenbeam::homing {

std::optional<long> first_coded_mark(long fixed_spacing, long met_apart, int direction) {
  const long b = 2 * met_apart - fixed_spacing;
  if (fixed_spacing <= 0 || fixed_spacing % 2 != 0 || met_apart <= 0 || met_apart >= fixed_spacing || b == 0)
    return std::nullopt;
  const long sign = b > 0 ? 1 : -1;
  // sgn B - sgn D is -2, 0 or 2, so that halves stay whole.
  return (std::labs(b) - sign - 1) * fixed_spacing / 2 + (sign - (direction > 0 ? 1 : -1)) / 2 * met_apart;
}

}  // namespace evenbeam::homing
