#pragma once
// One side by itself, swung with growing strokes: x = (5 cm + 5 mm/s t) sin(pi t); force = sign (m a + friction +
// offset).
#include <cmath>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::recording::test {

inline Recording swung(double mass_kg, double coulomb_n, double offset_n, bool on_b, double sign = 1) {
  Recording r{.name = on_b ? "b.csv" : "a.csv", .kind = RunKind::one_side, .period_s = 1e-3};
  std::vector<double> position, force;
  for (int k = 0; k < 8000; ++k) {
    const double t = 1e-3 * k, w = 2 * 3.141592653589793 * 0.5, swing = 0.05 + 0.005 * t;
    const double x = swing * std::sin(w * t), v = 0.005 * std::sin(w * t) + swing * w * std::cos(w * t);
    const double acceleration = 0.01 * w * std::cos(w * t) - w * w * x;
    r.time_s.push_back(t);
    position.push_back(x);
    force.push_back(sign * (mass_kg * acceleration + coulomb_n * std::tanh(v / 1e-3) + offset_n));
  }
  (on_b ? r.position_b_m : r.position_a_m) = position;
  (on_b ? r.force_b_n : r.force_a_n) = force;
  return r;
}

}  // namespace evenbeam::recording::test
