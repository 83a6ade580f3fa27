#include "homing/electrical_angle.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "math/student.h"
#include "math/tolerance.h"

namespace evenbeam::homing {
namespace {

double turned_back(double angle_rad) { return std::remainder(angle_rad, 2 * std::numbers::pi); }

double circular_mean(const std::vector<double>& angles_rad) {
  double sine = 0, cosine = 0;
  for (const double a : angles_rad) sine += std::sin(a), cosine += std::cos(a);
  return std::atan2(sine, cosine);
}

double lost(double error_rad) { return 1 - std::cos(std::min(std::abs(error_rad), std::numbers::pi)); }

}  // namespace

AngleAtMark angle_at_mark(const machine::ElectricalAngles& angles) {
  AngleAtMark out;
  const double n = static_cast<double>(angles.read_rad.size());
  if (angles.read_rad.size() < (angles.true_rad ? 1 : 2)) return out;
  out.done = true;
  out.angle_stated = angles.true_rad.has_value();
  const double mean = circular_mean(angles.read_rad);
  out.angle_rad = turned_back(angles.true_rad.value_or(mean));
  out.bias_rad = turned_back(mean - out.angle_rad);
  double squares = 0;
  for (const double read : angles.read_rad) {
    out.correction_rad.push_back(turned_back(out.angle_rad - read));
    out.largest_error_rad = std::max(out.largest_error_rad, std::abs(out.correction_rad.back()));
    squares += std::pow(turned_back(read - mean), 2);
  }
  out.loss_seen = lost(out.largest_error_rad);
  out.expected_error_rad = out.largest_error_rad;
  if (n > 1) {
    out.spread_rad = std::sqrt(squares / (n - 1));
    const double expected =
        std::abs(out.bias_rad) +
        math::two_sided_tolerance_factor(static_cast<int>(angles.read_rad.size()), 0.95, 0.95) * out.spread_rad;
    out.expected_error_rad = std::max(out.largest_error_rad, expected);
    if (!out.angle_stated) out.loss_after = lost(math::coverage_factor(0.95, n - 1) * out.spread_rad / std::sqrt(n));
  }
  out.loss_expected = lost(out.expected_error_rad);
  return out;
}

}  // namespace evenbeam::homing
