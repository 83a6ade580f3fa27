#include "servo/structures.h"

#include "servo/side_gains.h"

namespace evenbeam::servo {

StructureLaw prepare(const StructureSettings& s) {
  auto troubles = check_settings(s.common);
  if (s.structure != Structure::mean_skew) {
    check_coordinate(s.side_a, s.common.period_s, "side_a", troubles);
    check_coordinate(s.side_b, s.common.period_s, "side_b", troubles);
  }
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
  StructureLaw law;
  law.structure = s.structure;
  law.follower_late = s.follower_late;
  law.common = prepare(s.common);
  law.side_a = prepare(s.side_a, s.common.period_s);
  law.side_b = prepare(s.side_b, s.common.period_s);
  return law;
}

Forces step(const StructureLaw& law, StructureState& s, const Reference& r, double position_a_m,
            double position_b_m) {
  if (law.structure == Structure::mean_skew) return step(law.common, s.common, r, position_a_m, position_b_m);
  LoopState& c = s.common;
  const double before_a_m = s.side_a.started ? s.position_a_before_m : position_a_m;
  s.position_a_before_m = position_a_m;
  const double a = step(law.side_a, s.side_a, r.mean_m + r.skew_m / 2, r.mean_m_per_s + r.skew_m_per_s / 2,
                        position_a_m, c.clip_a > 0, c.clip_a < 0);
  const bool follows = law.structure == Structure::follower;
  const double reference_b_m =
      follows ? (law.follower_late ? before_a_m : position_a_m) - r.skew_m : r.mean_m - r.skew_m / 2;
  const double rate_b = follows ? s.side_a.velocity_m_per_s - r.skew_m_per_s : r.mean_m_per_s - r.skew_m_per_s / 2;
  const double b = step(law.side_b, s.side_b, reference_b_m, rate_b, position_b_m, c.clip_b > 0, c.clip_b < 0);
  double coupling = 0;
  if (law.structure == Structure::cross_coupled)
    coupling = step(law.common.skew, c.skew, r.skew_m, r.skew_m_per_s, position_a_m - position_b_m,
                    c.clip_a > 0 || c.clip_b < 0, c.clip_a < 0 || c.clip_b > 0);
  return share_and_clip(law.common, c, r, {a + coupling, b - coupling});
}

StructureSettings independent_from(const machine::Settings& settings) {
  const SideGains gains = side_gains(settings);
  StructureSettings out{Structure::independent, settings, gains.law, gains.law};
  out.side_a.velocity_gain_n_s_per_m = gains.aa;
  out.side_b.velocity_gain_n_s_per_m = gains.bb;
  return out;
}

}  // namespace evenbeam::servo
