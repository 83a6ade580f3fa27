#include "readiness/racking.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace evenbeam::readiness {
namespace {

struct Sums {
  double mass = 0, moment = 0, inertia = 0;
  void add(double mass_kg, double y_m, double own_inertia = 0) {
    mass += mass_kg;
    moment += mass_kg * y_m;
    inertia += mass_kg * y_m * y_m + own_inertia;
  }
};

}  // namespace

std::optional<double> smallest_racking_inertia_kg_m2(const machine::Machine& m) {
  const auto motor_a = reflected_mass_kg(m.a), motor_b = reflected_mass_kg(m.b);
  if (!m.bridge_mass_kg || !motor_a || !motor_b) return std::nullopt;
  const double half = m.span_m / 2,
               beam = m.bridge_inertia_kg_m2.value_or(*m.bridge_mass_kg * m.span_m * m.span_m / 12);
  const machine::CarriageRange range = carriage_range(m);
  double smallest = std::numeric_limits<double>::infinity();
  for (const double y_m : {range.min_y_m, (range.min_y_m + range.max_y_m) / 2, range.max_y_m})
    for (const double payload_kg : {m.payload_min_kg, m.payload_max_kg.value_or(m.payload_min_kg)}) {
      Sums sums{*m.bridge_mass_kg, *m.bridge_mass_kg * m.bridge_centre_y_m.value_or(0), beam};
      sums.add(*motor_a + m.end_mass_a_kg.value_or(0), -half);
      sums.add(*motor_b + m.end_mass_b_kg.value_or(0), half);
      sums.add(m.carriage_mass_kg.value_or(0) + payload_kg, y_m);
      smallest = std::min(smallest, (sums.inertia - sums.moment * sums.moment / sums.mass) /
                                        (1 + 2 * std::abs(sums.moment) / (sums.mass * m.span_m)));
    }
  return smallest;
}

double time_to_skew_s(double force_n, double span_m, double racking_inertia_kg_m2, double skew_m) {
  const double growth = span_m * span_m * force_n / (2 * racking_inertia_kg_m2);
  return std::sqrt(2 * skew_m / growth);
}

}  // namespace evenbeam::readiness
