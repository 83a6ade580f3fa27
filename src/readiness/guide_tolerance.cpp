#include "readiness/guide_tolerance.h"

namespace evenbeam::readiness {

std::optional<ParallelTolerance> parallel_tolerance(const machine::Guides& g) {
  if (!g.dynamic_rating_n || !g.static_rating_n) return std::nullopt;
  ParallelTolerance t{.stiffness_n_per_m = *g.static_rating_n / deflection_at_static_rating_m};
  if (g.yaw_stiffness_n_m_per_rad && g.spacing_m) {
    const double by_yaw = *g.yaw_stiffness_n_m_per_rad / (*g.spacing_m * *g.spacing_m);
    t.from_yaw_stiffness = by_yaw > t.stiffness_n_per_m;
    if (t.from_yaw_stiffness) t.stiffness_n_per_m = by_yaw;
  }
  t.error_m = 2 * (*g.dynamic_rating_n / 10) / t.stiffness_n_per_m;
  return t;
}

double height_tolerance_m(double span_m) { return tilt_a_carriage_takes_rad * span_m; }

}  // namespace evenbeam::readiness
