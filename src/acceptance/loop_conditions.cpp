#include "acceptance/loop_conditions.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "base/check.h"

namespace evenbeam::acceptance {

namespace {

constexpr double symmetrical_a = 2.0;  // of the symmetrical optimum; larger is calmer and slower

// A real root of p^3 + b p^2 + c p + d by bisection; a cubic has one inside the Cauchy bound.
double real_root(double b, double c, double d) {
  double high = 1 + std::max({std::abs(b), std::abs(c), std::abs(d)}), low = -high;
  for (int i = 0; i < 200; ++i) {
    const double p = (low + high) / 2;
    (((p + b) * p + c) * p + d > 0 ? high : low) = p;
  }
  return (low + high) / 2;
}

// The complex pair of b3 p^3 + b2 p^2 + b1 p + b0, as natural frequency and damping ratio.
std::optional<std::array<double, 2>> complex_pair(double b3, double b2, double b1, double b0) {
  const double b = b2 / b3, c = b1 / b3, d = b0 / b3;
  const double root = real_root(b, c, d);
  const double q1 = b + root, q0 = c + q1 * root;  // the cubic over (p - root) is p^2 + q1 p + q0
  if (!(q0 > 0) || q1 * q1 >= 4 * q0) return std::nullopt;
  const double natural = std::sqrt(q0);
  return std::array{natural, q1 / (2 * natural)};
}

}  // namespace

std::optional<LoopJudgement> judge_loop(const machine::CoordinateLoop& loop, const LoopInertia& plant,
                                        double period_s) {
  if (!(loop.velocity_gain_n_s_per_m > 0)) return std::nullopt;
  base::check(plant.inertia_kg > 0, "a loop is judged on a positive inertia", {plant.inertia_kg});
  const double kv = loop.velocity_gain_n_s_per_m, kp = loop.position_gain_per_s;
  const double rate = loop.velocity_integral_s > 0 ? 1 / loop.velocity_integral_s : 0;
  const double m = plant.inertia_kg, c = plant.damping_n_s_per_m, k = plant.stiffness_n_per_m;
  LoopJudgement out;
  out.bandwidth_rad_per_s = kv / m;
  const double left = (c + kv) * (k + kv * (kp + rate)), right = m * kv * kp * rate;
  out.conditions.push_back({"stability",
                            fmt::format("(c + Kv)(k + Kv (Kp + 1/Ti)) = {:.3g} > m Kv Kp/Ti = {:.3g}", left, right),
                            left > right});
  out.conditions.push_back({"position gain",
                            fmt::format("velocity bandwidth Kv/m = {:.1f} 1/s at least twice the "
                                        "position gain {:.3g} 1/s",
                                        out.bandwidth_rad_per_s, kp),
                            out.bandwidth_rad_per_s >= 2 * kp});
  if (rate > 0)
    out.conditions.push_back(
        {"integral time",
         fmt::format("Kv/m Ti = {:.2f} at least {:.0f} (integral time {:.0f} ms at least {:.0f} ms)",
                     out.bandwidth_rad_per_s / rate, symmetrical_a, 1e3 / rate,
                     1e3 * symmetrical_a / out.bandwidth_rad_per_s),
         out.bandwidth_rad_per_s >= symmetrical_a * rate});
  const double filter_s = loop.velocity_filter_hz > 0 ? 1 / (2 * std::numbers::pi * loop.velocity_filter_hz) : 0;
  const double lag_s = 1.5 * period_s + filter_s;
  out.conditions.push_back({"lag",
                            fmt::format("Kv/m T = {:.3f} at most {:.2f} (lag {:.2f} ms)",
                                        out.bandwidth_rad_per_s * lag_s, 1 / symmetrical_a, lag_s * 1e3),
                            out.bandwidth_rad_per_s * lag_s <= 1 / symmetrical_a});
  if (const auto pair = complex_pair(m, c + kv, k + kv * (kp + rate), kv * kp * rate)) {
    out.damping = (*pair)[1];
    out.ringing_hz =
        (*pair)[0] * std::sqrt(std::max(0.0, 1 - out.damping.value() * *out.damping)) / (2 * std::numbers::pi);
  }
  return out;
}

}  // namespace evenbeam::acceptance
