#include "bench_hand_kernel.h"
#include "simulation/pack.h"

namespace evenbeam::bench {

namespace {

constexpr int n = 12, d = 6;

struct Loop {
  double q = 0, v = 0, i = 0, s1 = 0, s2 = 0;
};

inline double coordinate(const servo::CoordinateLaw& l, Loop& s, double r, double rate, double q, bool up,
                         bool down) {
  const double difference = (q - s.q) * l.difference_factor;
  s.q = q;
  s.v += l.filter_factor * (difference - s.v);
  const double w = l.position_gain_per_s * (r - q) + rate - s.v;
  if (!((up && w > 0) || (down && w < 0))) s.i += w * l.integral_factor;
  const double u = l.velocity_gain * (w + s.i);
  const servo::BiquadLaw& f = l.filters[0];
  const double y = f.b0 * u + s.s1;
  s.s1 = f.b1 * u - f.a1 * y + s.s2;
  s.s2 = f.b2 * u - f.a2 * y;
  return y;
}

struct End {
  double z = 0, damped = 0, lagged = 0, waiting = 0, before = 0;
  int clip = 0;
};

inline double friction(const simulation::SideModel& m, End& e, double v, double h) {
  const double ratio = v * m.inverse_stribeck_speed_s_per_m;
  const double g =
      m.bristle.coulomb_n + m.bristle.stribeck_n * simulation::pack::exponential_of_negative(-ratio * ratio);
  const double speed = std::abs(v), a = m.bristle.stiffness_n_per_m * speed * h / g, half = a * (0.5 + a / 6);
  const double next = (e.z + h * v * (1 + half)) / (1 + a * (1 + half));
  const double damped = m.bristle.damping_n_s_per_m * std::max(0.0, 1 - m.fade_s_per_m * speed) * (next - e.z) / h;
  const double force = m.bristle.stiffness_n_per_m * next + damped + 0.5 * (damped - e.damped);
  e.z = next, e.damped = damped;
  return force;
}

inline double stop(const simulation::SideModel& m, double x, double v) {
  if (x > m.effects.stop_high_m)
    return std::min(
        0.0, -m.effects.stop_stiffness_n_per_m * (x - m.effects.stop_high_m) - m.effects.stop_damping_n_s_per_m * v);
  if (x < m.effects.stop_low_m)
    return std::max(
        0.0, -m.effects.stop_stiffness_n_per_m * (x - m.effects.stop_low_m) - m.effects.stop_damping_n_s_per_m * v);
  return 0;
}

inline double clip(End& e, double f, double peak) {
  e.clip = f > peak ? 1 : f < -peak ? -1 : 0;
  return std::clamp(f, -peak, peak);
}

}  // namespace

double hand_run(const simulation::GantryModel& m, const servo::LoopLaw& law, const simulation::ReferenceTrack& t) {
  alignas(64) double columns[n * (n + 6)];
  std::copy_n(m.after.columns.begin(), n * (n + 6), columns);
  alignas(64) double x[n] = {}, next[n];
  End a, b;
  Loop mean, skew;
  const double h = m.after.step_s, left = m.after.lag_left, count_a = m.a.effects.count_m,
               count_b = m.b.effects.count_m;
  for (std::size_t k = 0; k < t.mean_m.size(); ++k) {
    const double qa = count_a * simulation::pack::nearest(x[0] / count_a),
                 qb = count_b * simulation::pack::nearest(x[1] / count_b);
    if (k == 0) mean.q = 0.5 * (qa + qb), skew.q = qa - qb;
    const double v = t.mean_m_per_s[k];
    const double um = coordinate(law.mean, mean, t.mean_m[k], v, 0.5 * (qa + qb), a.clip > 0 || b.clip > 0,
                                 a.clip < 0 || b.clip < 0);
    const double us = coordinate(law.skew, skew, 0, 0, qa - qb, a.clip > 0 || b.clip < 0, a.clip < 0 || b.clip > 0);
    const double fm = um + law.mass_ff_kg * t.mean_m_per_s2[k],
                 ramp = std::clamp(v * law.per_ramp_s_per_m, -1.0, 1.0);
    const double fa = clip(
        a, law.share * fm + us + law.coulomb_a_n * ramp + law.viscous_a_n_s_per_m * v + law.offset_a_n, law.peak_a_n);
    const double fb =
        clip(b, (1 - law.share) * fm - us + law.coulomb_b_n * ramp + law.viscous_b_n_s_per_m * v + law.offset_b_n,
             law.peak_b_n);
    const double ra = std::clamp(a.waiting, -m.a.effects.peak_force_n, m.a.effects.peak_force_n) * m.a.force_scale;
    const double rb = std::clamp(b.waiting, -m.b.effects.peak_force_n, m.b.effects.peak_force_n) * m.b.force_scale;
    a.waiting = fa, b.waiting = fb;
    for (int step = 0; step < m.after.steps; ++step) {
      const double va = x[d], vb = x[d + 1];
      double in[6];
      in[0] = ra, in[1] = rb;
      in[2] = m.a.bias_n - friction(m.a, a, va, h) + stop(m.a, x[0] + 0.5 * h * va, va + 0.5 * (va - a.before));
      in[3] = m.b.bias_n - friction(m.b, b, vb, h) + stop(m.b, x[1] + 0.5 * h * vb, vb + 0.5 * (vb - b.before));
      in[4] = a.lagged - ra, in[5] = b.lagged - rb;
      a.before = va, b.before = vb;
      a.lagged = ra + left * in[4], b.lagged = rb + left * in[5];
      for (int i = 0; i < n; ++i) next[i] = 0;
      for (int j = 0; j < n; ++j)
        for (int i = 0; i < n; ++i) next[i] += columns[j * n + i] * x[j];
      for (int j = 0; j < 6; ++j)
        for (int i = 0; i < n; ++i) next[i] += columns[(n + j) * n + i] * in[j];
      std::memcpy(x, next, sizeof x);
    }
  }
  return x[0];
}

}  // namespace evenbeam::bench
