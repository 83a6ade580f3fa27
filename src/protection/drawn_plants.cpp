#include "protection/drawn_plants.h"

#include <algorithm>

#include "identification/identify.h"
#include "math/random.h"

namespace evenbeam::protection {

std::vector<dynamics::Plant> drawn_plants(const identification::Identified& id, int count, std::uint64_t seed) {
  std::vector<dynamics::Plant> out;
  if (!id.plant_known) return out;
  constexpr double delay_doubt = 0.1;  // of the delay (common practice, no source)
  math::Random random(seed);
  const identification::MotionFit& m = id.motion;
  const double g = id.scale.common.value;
  const auto drawn = [&](double value, const math::Estimate& e, double least) {
    return std::max(least, value + g * e.sd * random.normal());
  };
  for (int i = 0; i < count; ++i) {
    dynamics::Plant p = id.plant;
    p.fixed_moment_kg_m += g * m.moment_kg_m.sd * random.normal();
    p.yaw_stiffness_n_m_per_rad =
        drawn(p.yaw_stiffness_n_m_per_rad, m.yaw_stiffness_n_m_per_rad, 0.2 * p.yaw_stiffness_n_m_per_rad);
    p.a.coulomb_n = drawn(p.a.coulomb_n, m.coulomb_a_n, 0);
    p.b.coulomb_n = drawn(p.b.coulomb_n, m.coulomb_b_n, 0);
    p.a.viscous_n_s_per_m = drawn(p.a.viscous_n_s_per_m, m.viscous_a_n_s_per_m, 0);
    p.b.viscous_n_s_per_m = drawn(p.b.viscous_n_s_per_m, m.viscous_b_n_s_per_m, 0);
    p.delay_s *= std::max(0.2, 1 + delay_doubt * random.normal());
    dynamics::bound_moment(p);
    out.push_back(p);
  }
  return out;
}

}  // namespace evenbeam::protection
