#include "readiness/growth.h"

#include <cmath>

namespace evenbeam::readiness {

Growth growth(const machine::Machine& m, std::optional<double> tolerance_m) {
  Growth out;
  const machine::Thermal& t = m.thermal;
  if (t.scale && t.uneven_k && t.mark_from_fixed_m)
    out.mark_skew_m = std::abs(t.scale->per_k) * *t.mark_from_fixed_m * *t.uneven_k;
  if (t.scale && t.change_k && m.limits.travel_m) out.along_m = t.scale->per_k * *m.limits.travel_m * *t.change_k;
  if (t.bridge && t.change_k) out.bridge_m = t.bridge->per_k * m.span_m * *t.change_k;
  if (t.base && t.change_k) out.rails_apart_m = t.base->per_k * m.span_m * *t.change_k;
  if (!out.bridge_m || !out.rails_apart_m) return out;
  const double uneven_m = std::abs(t.bridge->per_k) * m.span_m * t.uneven_k.value_or(0);
  out.pressed_m = t.one_side_floats ? 0 : std::abs(*out.bridge_m - *out.rails_apart_m) + uneven_m;
  const double per_k = std::abs(t.bridge->per_k - t.base->per_k) * m.span_m;
  if (tolerance_m && per_k > 0 && !t.one_side_floats)
    out.change_taken_k = std::max(0.0, *tolerance_m - uneven_m) / per_k;
  return out;
}

}  // namespace evenbeam::readiness
