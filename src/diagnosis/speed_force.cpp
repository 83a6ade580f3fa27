#include <algorithm>
#include <cmath>

#include "diagnosis/criteria.h"
#include "math/least_squares.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {

// d = c_0 + c v + c_a a + c_s sign(v) over the samples in motion (above 5 % of top speed), as the import fits the
// skew (recording/time_shift.h): c v is what goes with the speed.
double fight_with_speed(const recording::Recording& r) {
  if (!recording::has_forces(r) || !recording::has_positions(r) || !(r.period_s > 0)) return 0;
  const auto half = std::max<std::size_t>(2, static_cast<std::size_t>(std::lround(0.01 / r.period_s)));
  const std::size_t n = r.position_a_m.size(), stride = std::max<std::size_t>(1, n / 5000);
  const double span_s = static_cast<double>(half) * r.period_s, top = recording::motion_of(r).top_speed_m_per_s;
  const auto mean = [&](std::size_t k) { return (r.position_a_m[k] + r.position_b_m[k]) / 2; };
  math::RowFolder folder(4);
  for (std::size_t k = half; k + half < n; k += stride) {
    const double before = mean(k - half), here = mean(k), after = mean(k + half);
    const double v = (after - before) / (2 * span_s), a = (after - 2 * here + before) / (span_s * span_s);
    const double fight = (r.force_a_n[k] - r.force_b_n[k]) / 2;
    if (!std::isfinite(a) || !std::isfinite(fight) || std::abs(v) < 0.05 * top) continue;
    const double row[] = {1, v, a, v > 0 ? 1.0 : -1.0};
    folder.add(row, fight);
  }
  const auto fit = folder.solve();
  return fit.state == math::FitState::solved ? fit.coefficients[1] * top : 0;
}

}  // namespace evenbeam::diagnosis
