#pragma once
// Settings of the loops in the words of demo/generator, whose loop law is a copy of its own; both loops' gains times
// `factor`.
#include "machine/settings.h"
#include "machines.h"

namespace evenbeam::checks {

inline generator::LoopSettings for_generator(const machine::Settings& s, double factor = 1) {
  generator::LoopSettings out;
  out.period_s = s.period_s, out.share = s.share, out.mass_ff_kg = s.mass_ff_kg, out.skew_ff_kg = s.skew_ff_kg;
  out.coulomb_ff_a_n = s.coulomb_ff_a_n, out.coulomb_ff_b_n = s.coulomb_ff_b_n;
  out.coulomb_ramp_m_per_s = s.coulomb_ramp_m_per_s;
  out.viscous_ff_a_n_s_per_m = s.viscous_ff_a_n_s_per_m, out.viscous_ff_b_n_s_per_m = s.viscous_ff_b_n_s_per_m;
  out.offset_a_n = s.offset_a_n, out.offset_b_n = s.offset_b_n;
  out.peak_a_n = s.peak_force_a_n, out.peak_b_n = s.peak_force_b_n;
  const auto loop = [&](const machine::CoordinateLoop& c) {
    generator::Loop l{
        c.position_gain_per_s, c.velocity_gain_n_s_per_m * factor, c.velocity_integral_s, c.velocity_filter_hz, {}};
    for (const machine::Biquad& f : c.filters) l.filters.push_back({f.hz, f.zn, f.zd});
    return l;
  };
  out.mean = loop(s.mean), out.skew = loop(s.skew);
  return out;
}

}  // namespace evenbeam::checks
