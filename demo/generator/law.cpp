#include "law.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace generator {

Law::Law(const LoopSettings& settings)
    : settings_(settings), mean_(channel(settings.mean)), skew_(channel(settings.skew)) {}

// Bilinear with s = c (z - 1)/(z + 1), c = w / tan(w T/2), so that w itself lands on w.
Law::Channel Law::channel(const Loop& loop) const {
  Channel made;
  made.loop = loop;
  const double turn = 2 * std::numbers::pi * settings_.period_s;
  if (loop.velocity_filter_hz > 0) made.smoothing = 1 - std::exp(-turn * loop.velocity_filter_hz);
  for (const Biquad& f : loop.filters) {
    const double t = std::tan(turn * f.hz / 2), n = 2 * f.zn * t, d = 2 * f.zd * t, whole = 1 + d + t * t;
    made.sections.push_back({(1 + n + t * t) / whole, 2 * (t * t - 1) / whole, (1 - n + t * t) / whole,
                             2 * (t * t - 1) / whole, (1 - d + t * t) / whole});
  }
  return made;
}

// push_sign_*: which way a positive output of this channel moves each side's force.
double Law::output(Channel& c, double place, const Reference& reference, double push_sign_a, double push_sign_b) {
  if (first_) c.last_place = place;
  const double difference = (place - c.last_place) / settings_.period_s;
  c.last_place = place;
  c.speed += c.smoothing * (difference - c.speed);
  const double w = c.loop.position_gain_per_s * (reference.place - place) + reference.speed - c.speed;
  const bool held = push_sign_a * w * clip_a_ > 0 || push_sign_b * w * clip_b_ > 0;
  if (!held && c.loop.velocity_integral_s > 0) c.integral += w * settings_.period_s / c.loop.velocity_integral_s;
  double u = c.loop.velocity_gain_n_s_per_m * (w + c.integral);
  for (Section& s : c.sections) {
    const double y = s.b0 * u + s.s1;
    s.s1 = s.b1 * u - s.a1 * y + s.s2;
    s.s2 = s.b2 * u - s.a2 * y;
    u = y;
  }
  return u;
}

Forces Law::sample(double position_a_m, double position_b_m, const Reference& mean, const Reference& skew,
                   const Forces& added) {
  const LoopSettings& s = settings_;
  const double u_mean = output(mean_, (position_a_m + position_b_m) / 2, mean, 1, 1);
  const double u_skew = output(skew_, position_a_m - position_b_m, skew, 1, -1);
  first_ = false;
  const double together = u_mean + s.mass_ff_kg * mean.acceleration;
  const double apart = u_skew + s.skew_ff_kg * skew.acceleration;
  const double going = std::clamp(mean.speed / s.coulomb_ramp_m_per_s, -1.0, 1.0);
  const double a = s.share * together + apart + s.coulomb_ff_a_n * going + s.viscous_ff_a_n_s_per_m * mean.speed +
                   s.offset_a_n + added.a_n;
  const double b = (1 - s.share) * together - apart + s.coulomb_ff_b_n * going +
                   s.viscous_ff_b_n_s_per_m * mean.speed + s.offset_b_n + added.b_n;
  const Forces out{std::clamp(a, -s.peak_a_n, s.peak_a_n), std::clamp(b, -s.peak_b_n, s.peak_b_n)};
  clip_a_ = (a > s.peak_a_n) - (a < -s.peak_a_n);
  clip_b_ = (b > s.peak_b_n) - (b < -s.peak_b_n);
  return out;
}

}  // namespace generator
