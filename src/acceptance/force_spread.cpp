#include "acceptance/force_spread.h"

#include <algorithm>
#include <cmath>

#include "math/student.h"

namespace evenbeam::acceptance {

std::optional<double> rms_half_width(const std::vector<double>& force_n, const std::vector<Stroke>& strokes) {
  constexpr std::size_t least_strokes = 4;
  std::vector<double> squares;
  for (const Stroke& s : strokes) {
    if (!s.stop_seen || s.rest_cut) continue;
    double sum = 0, n = 0;
    for (std::size_t i = s.from; i < std::min(s.rest_to, force_n.size()); ++i)
      if (std::isfinite(force_n[i])) sum += force_n[i] * force_n[i], ++n;
    if (n > 0) squares.push_back(sum / n);
  }
  if (squares.size() < least_strokes) return std::nullopt;
  const double n = static_cast<double>(squares.size());
  double mean = 0, spread = 0;
  for (double q : squares) mean += q / n;
  if (!(mean > 0)) return std::nullopt;
  for (double q : squares) spread += (q - mean) * (q - mean) / (n - 1);
  return math::student_quantile(0.975, n - 1) * std::sqrt(spread / n) / (2 * mean);
}

}  // namespace evenbeam::acceptance
