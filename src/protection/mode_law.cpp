#include "protection/mode_law.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::protection {
namespace {

constexpr double kFinest_s = 1e-7;

SideLaw side_law(const EventModel& m, const SideModel& side, const SideMode& mode, const Mode& whole, double share,
                 double sign) {
  SideLaw out;
  if (mode.output == Output::held) out.constant_n = mode.held_n;
  if (mode.output == Output::loop || mode.output == Output::follow)
    out.skew_gain = sign * m.skew.velocity_gain_n_s_per_m;
  if (mode.output == Output::loop) {
    out.mean_gain = share * m.mean.velocity_gain_n_s_per_m;
    out.ff_a = share * m.mass_ff_kg;
    out.ff_v = side.viscous_ff_n_s_per_m;
    out.constant_n = whole.direction * side.coulomb_ff_n + side.offset_n;
  }
  if (mode.clip == 0)
    out.pass_per_s = side.force_scale / m.lag_s;
  else
    out.held_n_per_s = side.force_scale * mode.clip * side.peak_n / m.lag_s;
  out.viscous_n_s_per_m = side.viscous_n_s_per_m + mode.extra_viscous_n_s_per_m;
  out.sliding_n = mode.slides * (side.coulomb_n + mode.extra_coulomb_n);
  out.push_n = sign * whole.yaw_push_n;
  return out;
}

// Sums of |term| h^k from the highest down, all quantities beside each other.
template <size_t Count, size_t Size>
void sum_strays(const std::array<double, Size>* terms, size_t highest, double h, std::array<double, Count>& out) {
  static_assert(Count <= Size);
  std::array<double, Count> sum{};
  for (size_t k = highest; k > 0; --k)
    for (size_t i = 0; i < Count; ++i) sum[i] = (sum[i] + std::abs(terms[k][i])) * h;
  out = sum;
}

// `part` times z' into d. One pass without a look back: what was just stored in halves is slow to load as a whole.
[[gnu::always_inline]] inline void scaled_rates(const ModeLaw& l, const State& z, double one, double part, State& d,
                                                Watched& w) {
  const double a = l.read_a * z[v_a], b = l.read_b * z[v_b];
  const double mean = (a + b) / 2, turn = a - b;
  const double mean_seen = l.mean_filter_per_s > 0 ? z[mean_read] : mean;
  const double turn_seen = l.skew_filter_per_s > 0 ? z[skew_read] : turn;
  const double w_mean = l.mean_gain_per_s * z[mean_error] + z[v_ref] - mean_seen;
  const double w_skew = l.skew_gain_per_s * z[skew_error] + one * l.skew_rate_m_per_s - turn_seen;
  const auto wanted = [&](const SideLaw& s) {
    return s.mean_gain * (w_mean + z[mean_integral]) + s.skew_gain * (w_skew + z[skew_integral]) + s.ff_a * z[a_ref] +
           s.ff_v * z[v_ref] + one * s.constant_n;
  };
  w[wanted_a] = wanted(l.a), w[wanted_b] = wanted(l.b);
  const double spring = l.stiffness * z[skew] + l.damping * (z[v_a] - z[v_b]);
  const double free_a = z[f_a] + one * l.a.push_n - spring - l.a.viscous_n_s_per_m * z[v_a];
  const double free_b = z[f_b] + one * l.b.push_n + spring - l.b.viscous_n_s_per_m * z[v_b];
  const double push_a = free_a - one * l.a.sliding_n, push_b = free_b - one * l.b.sliding_n;
  const double gain_a = l.inverse_aa * push_a + l.inverse_ab * push_b;
  const double gain_b = l.inverse_ab * push_a + l.inverse_bb * push_b;
  w[hold_a] = free_a - l.w_ab_kg * gain_b, w[hold_b] = free_b - l.w_ab_kg * gain_a;
  d[v_a] = part * gain_a, d[v_b] = part * gain_b;
  d[skew] = part * (z[v_a] - z[v_b]);
  d[mean_error] = part * (z[v_ref] - mean);
  d[skew_error] = part * (one * l.skew_rate_m_per_s - turn);
  d[mean_read] = part * (l.mean_filter_per_s * (mean - z[mean_read]));
  d[skew_read] = part * (l.skew_filter_per_s * (turn - z[skew_read]));
  d[mean_integral] = part * (l.mean_integral_per_s * w_mean);
  d[skew_integral] = part * (l.skew_integral_per_s * w_skew);
  d[f_a] = part * (l.a.pass_per_s * w[wanted_a] + one * l.a.held_n_per_s - l.per_lag_s * z[f_a]);
  d[f_b] = part * (l.b.pass_per_s * w[wanted_b] + one * l.b.held_n_per_s - l.per_lag_s * z[f_b]);
  d[v_ref] = part * z[a_ref];
  d[a_ref] = part * (one * l.jerk_m_per_s3);
  d[way] = part * ((z[v_a] + z[v_b]) / 2);
}

}  // namespace

ModeLaw law_of(const EventModel& m, const Mode& mode) {
  ModeLaw out{.a = side_law(m, m.a, mode.a, mode, m.share, 1), .b = side_law(m, m.b, mode.b, mode, 1 - m.share, -1)};
  out.read_a = mode.a.feedback_gain, out.read_b = mode.b.feedback_gain;
  out.mean_gain_per_s = m.mean.position_gain_per_s, out.skew_gain_per_s = m.skew.position_gain_per_s;
  out.skew_rate_m_per_s = mode.skew_rate_m_per_s;
  out.mean_filter_per_s = m.mean.filter_per_s, out.skew_filter_per_s = m.skew.filter_per_s;
  if (mode.a.clip == 0 && mode.b.clip == 0)
    out.mean_integral_per_s = m.mean.integral_per_s, out.skew_integral_per_s = m.skew.integral_per_s;
  out.stiffness = m.stiffness_n_per_m, out.damping = m.damping_n_s_per_m;
  out.per_lag_s = 1 / m.lag_s, out.jerk_m_per_s3 = mode.jerk_m_per_s3, out.w_ab_kg = m.w_ab_kg;
  if (mode.a.slides != 0 && mode.b.slides != 0) {
    const double det = m.w_aa_kg * m.w_bb_kg - m.w_ab_kg * m.w_ab_kg;
    out.inverse_aa = m.w_bb_kg / det, out.inverse_ab = -m.w_ab_kg / det, out.inverse_bb = m.w_aa_kg / det;
  } else if (mode.a.slides != 0) {
    out.inverse_aa = 1 / m.w_aa_kg;
  } else if (mode.b.slides != 0) {
    out.inverse_bb = 1 / m.w_bb_kg;
  }
  return out;
}

void rates(const ModeLaw& l, const State& z, double one, State& d, Watched& w) { scaled_rates(l, z, one, 1, d, w); }

Series series(const EventModel& m, const Mode& mode, const State& z, double longest_s) {
  // What the last term may add: 10 nm/s, 0.1 nm, 1 mN; a step ends where it would add more.
  constexpr double speed = 1e-8, length = 1e-10, force = 1e-3;
  const ModeLaw law = law_of(m, mode);
  Series out;
  out.terms[0] = z;
  for (size_t k = 1; k <= series_order; ++k) {
    scaled_rates(law, out.terms[k - 1], k == 1 ? 1 : 0, 1 / static_cast<double>(k), out.terms[k], out.watched[k - 1]);
  }
  const State& last = out.terms[series_order];
  const double speeds =
      std::max({std::abs(last[v_a]), std::abs(last[v_b]), std::abs(last[mean_read]), std::abs(last[skew_read])});
  const double excess = std::max({speeds / speed, std::abs(last[skew]) / length,
                                  std::max(std::abs(last[f_a]), std::abs(last[f_b])) / force, 1e-300});
  const double h = std::min(longest_s, 0.9 * std::pow(excess, -1.0 / series_order));
  out.length_s = std::max(h, std::min(kFinest_s, longest_s));
  sum_strays(out.terms.data(), series_order, out.length_s, out.strays);
  sum_strays(out.watched.data(), series_order - 1, out.length_s, out.watched_strays);
  return out;
}

State at(const Series& s, double time_s) {
  State out = s.terms[series_order];
  for (size_t k = series_order; k-- > 0;)
    for (size_t i = 0; i < state_size; ++i) out[i] = out[i] * time_s + s.terms[k][i];
  return out;
}

}  // namespace evenbeam::protection
