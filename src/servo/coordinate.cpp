#include "servo/coordinate.h"

#include <fmt/format.h>

#include <cmath>
#include <numbers>

namespace evenbeam::servo {

BiquadLaw bilinear(const machine::Biquad& f, double period_s) {
  // With t = tan(w0 T/2) and s = w0 (z - 1)/(t (z + 1)) the factor w0^2/t^2 cancels between the two halves.
  const double t = std::tan(std::numbers::pi * f.hz * period_s);
  const double a0 = 1 + 2 * f.zd * t + t * t;
  BiquadLaw law;
  law.b0 = (1 + 2 * f.zn * t + t * t) / a0;
  law.b1 = 2 * (t * t - 1) / a0;
  law.b2 = (1 - 2 * f.zn * t + t * t) / a0;
  law.a1 = law.b1;
  law.a2 = (1 - 2 * f.zd * t + t * t) / a0;
  return law;
}

CoordinateLaw prepare(const machine::CoordinateLoop& loop, double period_s) {
  CoordinateLaw law;
  law.period_s = period_s;
  law.position_gain_per_s = loop.position_gain_per_s;
  law.velocity_gain = loop.velocity_gain_n_s_per_m;
  law.integral_factor = loop.velocity_integral_s > 0 ? period_s / loop.velocity_integral_s : 0;
  law.difference_factor = 1 / period_s;
  if (loop.velocity_filter_hz > 0)
    law.filter_factor = -std::expm1(-2 * std::numbers::pi * loop.velocity_filter_hz * period_s);
  law.filter_count = static_cast<int>(loop.filters.size());
  for (int i = 0; i < law.filter_count && i < most_filters; ++i) law.filters[i] = bilinear(loop.filters[i], period_s);
  return law;
}

void check_coordinate(const machine::CoordinateLoop& loop, double period_s, const std::string& name,
                      std::vector<base::Trouble>& troubles) {
  const auto refuse = [&](const std::string& field, double value, const std::string& rule, const std::string& next) {
    troubles.push_back({"settings", 0, 0, fmt::format("{}_{} = {}", name, field, value), rule, next});
  };
  const auto want_positive_or_zero = [&](const std::string& field, double value) {
    if (!std::isfinite(value) || value < 0) refuse(field, value, "a finite number >= 0", "Correct the setting");
  };
  want_positive_or_zero("position_gain_per_s", loop.position_gain_per_s);
  want_positive_or_zero("velocity_gain", loop.velocity_gain_n_s_per_m);
  want_positive_or_zero("velocity_integral_s", loop.velocity_integral_s);
  want_positive_or_zero("velocity_filter_hz", loop.velocity_filter_hz);
  if (loop.filters.size() > most_filters)
    refuse("filters", double(loop.filters.size()), fmt::format("at most {} filters", most_filters),
           "Merge or drop filters");
  for (const auto& f : loop.filters) {
    if (!(f.hz > 0) || !(f.hz * period_s < 0.5))
      refuse("filters.hz", f.hz, "above 0 and below half the sampling rate", "Correct the filter's frequency");
    if (!(f.zn >= 0) || !std::isfinite(f.zn)) refuse("filters.zn", f.zn, "a finite number >= 0", "Correct zn");
    if (!(f.zd > 0) || !std::isfinite(f.zd))
      refuse("filters.zd", f.zd, "a finite number > 0 (the filter rings for ever otherwise)", "Correct zd");
  }
}

double step(const CoordinateLaw& law, CoordinateState& s, double reference_m, double reference_m_per_s,
            double position_m, bool clip_up, bool clip_down) {
  if (!s.started) {
    s.started = true;
    s.position_m = position_m;
  }
  const double difference = (position_m - s.position_m) * law.difference_factor;
  s.position_m = position_m;
  s.velocity_m_per_s += law.filter_factor * (difference - s.velocity_m_per_s);
  const double w = law.position_gain_per_s * (reference_m - position_m) + reference_m_per_s - s.velocity_m_per_s;
  const bool held = (clip_up && w > 0) || (clip_down && w < 0);
  if (!held) s.integral_m_per_s += w * law.integral_factor;
  double u = law.velocity_gain * (w + s.integral_m_per_s);
  for (int i = 0; i < law.filter_count; ++i) {
    const BiquadLaw& f = law.filters[i];
    const double y = f.b0 * u + s.s1[i];
    s.s1[i] = f.b1 * u - f.a1 * y + s.s2[i];
    s.s2[i] = f.b2 * u - f.a2 * y;
    u = y;
  }
  return u;
}

}  // namespace evenbeam::servo
