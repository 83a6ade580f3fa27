#include "protection/coasting.h"

#include <algorithm>
#include <cmath>

#include "protection/ordinary_move.h"

namespace evenbeam::protection {

double largest_skew_to_come_m(const EventModel& m, const Mode& mode, const State& z) {
  constexpr double last_instants = 1.01;
  const double a = m.w_aa_kg + m.w_ab_kg, b = m.w_ab_kg + m.w_bb_kg, mass = a + b, k = m.stiffness_n_per_m;
  const double det = m.w_aa_kg * m.w_bb_kg - m.w_ab_kg * m.w_ab_kg;
  const double speed = (a * z[v_a] + b * z[v_b]) / mass, way = speed < 0 ? -1 : 1;
  const double coulomb_a = m.a.coulomb_n + mode.a.extra_coulomb_n, coulomb_b = m.b.coulomb_n + mode.b.extra_coulomb_n;
  const double viscous_a = m.a.viscous_n_s_per_m + mode.a.extra_viscous_n_s_per_m,
               viscous_b = m.b.viscous_n_s_per_m + mode.b.extra_viscous_n_s_per_m;
  const double at_rest_m = way * (a * coulomb_b - b * coulomb_a) / mass / k;
  const double per_speed = (a * viscous_b - b * viscous_a) / mass / k;  // s
  if (k * std::abs(at_rest_m) > std::min(coulomb_a, coulomb_b)) return never_s;
  const double now_m = at_rest_m + per_speed * speed;
  const double slows = (coulomb_a + coulomb_b + (viscous_a + viscous_b) * std::abs(speed)) / mass;
  const double turns = -per_speed * way * slows;  // sigma_0'
  State off{};
  off[v_a] = z[v_a] - speed - turns / 2, off[v_b] = z[v_b] - speed + turns / 2, off[skew] = z[skew] - now_m;
  const auto inverse = [&](double fa, double fb) {
    return (m.w_bb_kg * fa * fa - 2 * m.w_ab_kg * fa * fb + m.w_aa_kg * fb * fb) / det;
  };
  const double root = std::sqrt(2 * energy_j(m, off)) + m.lag_s * std::sqrt(std::max(0.0, inverse(z[f_a], z[f_b])));
  const double turning_kg = m.w_aa_kg - 2 * m.w_ab_kg + m.w_bb_kg;
  const double growth = std::abs(per_speed) * (slows * std::sqrt(std::max(0.0, turning_kg)) +
                                               m.damping_n_s_per_m * std::abs(speed) * std::sqrt(inverse(1, -1)));
  return last_instants * (std::max(std::abs(now_m), std::abs(at_rest_m)) + (root + growth) / std::sqrt(k));
}

}  // namespace evenbeam::protection
