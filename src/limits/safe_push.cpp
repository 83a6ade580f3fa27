#include "limits/safe_push.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/check.h"

namespace evenbeam::limits {

namespace {

struct Inertia {
  double mass_kg = 0, moment_kg_m = 0, yaw_kg_m2 = 0;
};

double known(const std::optional<double>& value, const char* name, std::vector<std::string>& missing) {
  if (!value) missing.push_back(name);
  return value.value_or(0);
}

// Everything but carriage and payload, from the papers; unknown parts count as nothing.
Inertia fixed_parts(const machine::Machine& m, std::vector<std::string>& missing) {
  const double bridge = known(m.bridge_mass_kg, "bridge", missing);
  const double y_b = m.bridge_centre_y_m.value_or(0);
  const double at_a =
      known(m.end_mass_a_kg, "end A", missing) + known(machine::reflected_mass_kg(m.a), "drive A", missing);
  const double at_b =
      known(m.end_mass_b_kg, "end B", missing) + known(machine::reflected_mass_kg(m.b), "drive B", missing);
  const double half = m.span_m / 2;
  const double uniform = bridge * m.span_m * m.span_m / 12 + bridge * y_b * y_b;
  return {bridge + at_a + at_b, bridge * y_b + (at_b - at_a) * half,
          m.bridge_inertia_kg_m2.value_or(uniform) + (at_a + at_b) * half * half};
}

// u' W^-1 u for generalised force (f, q) in (x_m, theta): (J f^2 + 2 S f q + M q^2)/(M J - S^2).
double compliance(const Inertia& w, double f, double q) {
  const double det = w.mass_kg * w.yaw_kg_m2 - w.moment_kg_m * w.moment_kg_m;
  return (w.yaw_kg_m2 * f * f + 2 * w.moment_kg_m * f * q + w.mass_kg * q * q) / det;
}

void widen(PushInertia& out, const Inertia& w, double span_m) {
  const double pair = std::max(compliance(w, 2, 0), compliance(w, 0, span_m));
  const double end = std::max(compliance(w, 1, span_m / 2), compliance(w, 1, -span_m / 2));
  out.pair_per_kg = std::max(out.pair_per_kg, pair);
  out.end_per_kg = std::max(out.end_per_kg, end);
}

// Where the carriage leaves a push most to move: for each force (f, q) the place that the push does not accelerate,
// and both ends of the travel. With W_0 the fixed parts, a mass c at y takes c (w' W_0^-1 u)^2/(1 + c u' W_0^-1 u)
// from w' W_0^-1 w, u = (1, -y): a square of a line over a positive quadratic, which is zero at one place and has no
// other minimum (derived). So nothing in between is worse.
std::vector<double> worst_places(const Inertia& fixed, const machine::CarriageRange& range, double span_m) {
  std::vector<double> out{range.min_y_m, range.max_y_m};
  const double forces[][2] = {{2, 0}, {0, span_m}, {1, span_m / 2}, {1, -span_m / 2}};
  for (const auto& [f, q] : forces) {
    const double y = (fixed.yaw_kg_m2 * f + fixed.moment_kg_m * q) / (fixed.moment_kg_m * f + fixed.mass_kg * q);
    if (y > range.min_y_m && y < range.max_y_m) out.push_back(y);  // not where the denominator is zero
  }
  return out;
}

}  // namespace

std::optional<PushInertia> push_inertia(const machine::Machine& m, const LimitsInput& input) {
  PushInertia out;
  Inertia fixed = fixed_parts(m, out.missing);
  double carriage = m.carriage_mass_kg.value_or(0);
  if (!m.carriage_mass_kg) out.missing.push_back("carriage");
  if (input.moving_mass_kg && input.yaw_inertia_kg_m2) {
    const double y = input.carriage_y_m.value_or(m.carriage_y_m.value_or(0));
    fixed.mass_kg = input.moving_mass_kg->lower - carriage;
    fixed.yaw_kg_m2 = input.yaw_inertia_kg_m2->lower - carriage * y * y;
    out.fitted = true;
    out.missing.clear();
  } else if (!m.bridge_mass_kg) {
    return std::nullopt;
  }
  if (!(fixed.mass_kg > 0) || !(fixed.yaw_kg_m2 * fixed.mass_kg > fixed.moment_kg_m * fixed.moment_kg_m))
    return std::nullopt;  // no masses of a body
  for (const double y : worst_places(fixed, machine::carriage_range(m), m.span_m))
    for (const double load : {0.0, m.payload_max_kg.value_or(0)}) {
      const double c = carriage + load;
      const Inertia w{fixed.mass_kg + c, fixed.moment_kg_m + c * y, fixed.yaw_kg_m2 + c * y * y};
      widen(out, w, m.span_m);
    }
  return out;
}

PushBounds push_bounds(const PushCase& push, double force_n, double time_s) {
  base::check(push.span_m > 0 && push.inertia.pair_per_kg > 0, "a push needs a span and an inertia",
              {push.span_m, push.inertia.pair_per_kg});
  const double impulse = force_n * std::sqrt(push.inertia.pair_per_kg) * time_s;  // F c T
  const double k_low = push.stiffness_low_n_m_per_rad.value_or(0);
  const double k_high = push.stiffness_high_n_m_per_rad.value_or(k_low);
  const double start_rad = push.start_skew_m / push.span_m;
  const double root_energy = std::sqrt(k_high) * start_rad + impulse;  // sqrt(2 E) at the end of the push
  PushBounds out;
  out.speed_m_per_s = root_energy * std::sqrt(push.inertia.end_per_kg);
  out.moment_n_m = 2 * push.span_m * force_n;
  if (push.friction_low_n && *push.friction_low_n > 0) {
    out.way_m = (impulse / 2 + std::sqrt(k_high) * start_rad) * std::sqrt(push.inertia.pair_per_kg) * time_s +
                root_energy * root_energy / (2 * *push.friction_low_n);
    out.skew_m = push.start_skew_m + *out.way_m;
  }
  if (k_low > 0) {
    const double turned_rad = std::min(impulse / std::sqrt(k_low), 2 * push.span_m * force_n / k_low);
    const double held = push.start_skew_m + push.span_m * turned_rad;
    out.skew_m = std::min(out.skew_m.value_or(held), held);
    // K theta grows with K where E is given, so the moment takes the stiff end.
    out.moment_n_m = std::min(out.moment_n_m, impulse * std::sqrt(k_high)) + k_high * start_rad;
  }
  return out;
}

namespace {

bool inside(const PushBounds& b, const PushLimits& limits) {
  if (b.speed_m_per_s > limits.speed_m_per_s) return false;
  if (limits.moment_n_m && b.moment_n_m > *limits.moment_n_m) return false;
  return !limits.skew_m || (b.skew_m && *b.skew_m <= *limits.skew_m);
}

}  // namespace

double largest_force_n(const PushCase& push, const PushLimits& limits, double time_s, double ceiling_n) {
  if (inside(push_bounds(push, ceiling_n, time_s), limits)) return ceiling_n;
  double low = 0, high = ceiling_n;
  for (int i = 0; i < 50; ++i) {
    const double middle = (low + high) / 2;
    (inside(push_bounds(push, middle, time_s), limits) ? low : high) = middle;
  }
  return low;
}

std::string binding_limit(const PushBounds& b, const PushLimits& limits) {
  std::string name = "speed";
  double used = b.speed_m_per_s / limits.speed_m_per_s;
  if (limits.moment_n_m && b.moment_n_m / *limits.moment_n_m > used) {
    used = b.moment_n_m / *limits.moment_n_m;
    name = "yaw moment";
  }
  if (limits.skew_m && (!b.skew_m || *b.skew_m / *limits.skew_m > used)) name = "skew";
  return name;
}

}  // namespace evenbeam::limits
