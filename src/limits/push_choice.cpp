// The choice of force and time inside the bounds of safe_push.h.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "limits/limits_station.h"

namespace evenbeam::limits {

namespace {

constexpr double use_of_limit = 0.5;               // half of what is allowed stays in hand for the first push
constexpr double manual_speed_m_per_s = 2.0 / 60;  // 2 m/min, reduced speed of manual modes (from memory)
constexpr double stated_scale_doubt = 1.1;      // nameplate force constants within 10 % (common practice, no source)
constexpr double loose_skew_per_span = 0.5e-3;  // ends that turn and no limit stated (common practice, no source)
constexpr double wanted_level = 0.05;           // head room above the practice of starting at 2-3 % of peak
constexpr double ceiling_level = 0.10;          // more tells nothing more
constexpr double over_breakaway = 1.5;
constexpr double longest_s = 0.2, shortest_s = 0.01, step_s = 0.001;
constexpr double guide_friction_coefficient = 0.002;  // of the weight: the low end for profile guides (from memory)

std::optional<double> weaker_peak_n(const machine::Machine& m) {
  if (!m.a.peak_force_n || !m.b.peak_force_n) return std::nullopt;
  return std::min(*m.a.peak_force_n, *m.b.peak_force_n);
}

void set_case(const machine::Machine& m, const LimitsInput& in, const Allowable& allowed, SafePush& out) {
  out.push.span_m = m.span_m;
  const auto stiffness = yaw_stiffness_of(m, in.yaw_stiffness_n_m_per_rad);
  if (stiffness && stiffness->lower > 0) {
    out.push.stiffness_low_n_m_per_rad = stiffness->lower;
    out.push.stiffness_high_n_m_per_rad = stiffness->upper;
  }
  if (in.coulomb_a_n && in.coulomb_b_n) {
    out.push.friction_low_n = std::max(0.0, std::min(in.coulomb_a_n->lower, in.coulomb_b_n->lower));
    const double high = std::max(in.coulomb_a_n->upper, in.coulomb_b_n->upper);
    if (stiffness && stiffness->lower > 0) out.push.start_skew_m = high * m.span_m * m.span_m / stiffness->lower;
  } else {
    out.push.friction_low_n = guide_friction_coefficient * standing_load(m, 1).lighter_side_n;
  }
  out.scale_high = in.force_scale_a && in.force_scale_b ? std::max(in.force_scale_a->upper, in.force_scale_b->upper)
                                                        : stated_scale_doubt;
  if (allowed.moment_n_m) out.limits.moment_n_m = use_of_limit * *allowed.moment_n_m;
}

void set_limits(const machine::Machine& m, const Allowable& allowed, SafePush& out) {
  out.limits.speed_m_per_s = std::min(m.limits.speed_m_per_s.value_or(manual_speed_m_per_s), manual_speed_m_per_s);
  if (allowed.skew_m) {
    out.limits.skew_m = use_of_limit * *allowed.skew_m;
    out.skew_limit_source = fmt::format("half of the allowable skew ({})", allowed.skew_governs);
  } else if (!allowed.moment_n_m) {
    out.limits.skew_m = use_of_limit * loose_skew_per_span * m.span_m;
    out.skew_limit_source = "half of 0.5 mm a metre of span, since no limit is known (common practice, no source)";
  }
}

void set_wanted(const machine::Machine& m, const LimitsInput& in, const PushInertia& inertia, SafePush& out) {
  const auto peak = weaker_peak_n(m);
  if (peak) {
    out.wanted_force_n = wanted_level * *peak;
    out.wanted_why = "5 % of peak: head room above the practice of starting at 2-3 %";
  } else {
    out.wanted_force_n = 0.2 * 4 / inertia.pair_per_kg;  // 0.2 m/s2 of the lighter of mean and yaw
    out.wanted_why = "0.2 m/s2, as no peak force is stated";
  }
  if (!in.coulomb_a_n || !in.coulomb_b_n) return;
  const double breakaway = over_breakaway * std::max(in.coulomb_a_n->upper, in.coulomb_b_n->upper);
  if (breakaway <= out.wanted_force_n) return;
  out.wanted_force_n = breakaway;
  out.wanted_why = "1.5 times the larger friction found";
}

}  // namespace

SafePush safe_push(const machine::Machine& m, const LimitsInput& in, const Allowable& allowed) {
  SafePush out;
  const auto inertia = push_inertia(m, in);
  if (!inertia) {
    out.why_not = "the bridge's mass is not stated, so nothing bounds how fast a push moves it";
    out.settled_by = "State the masses of bridge, ends and drives; until then move the bridge by hand only.";
    return out;
  }
  out.push.inertia = *inertia;
  set_case(m, in, allowed, out);
  set_limits(m, allowed, out);
  set_wanted(m, in, *inertia, out);
  const auto peak = weaker_peak_n(m);
  const double ceiling = std::max(peak ? ceiling_level * *peak : 2 * out.wanted_force_n, out.wanted_force_n);
  double force = 0, time = shortest_s;
  for (int steps = int(std::lround((longest_s - shortest_s) / step_s)); steps >= 0; --steps) {
    time = shortest_s + steps * step_s;
    force = largest_force_n(out.push, out.limits, time, ceiling * out.scale_high) / out.scale_high;
    if (force >= out.wanted_force_n) break;
  }
  if (!(force > 0)) {
    out.why_not = fmt::format(
        "no force keeps inside even for 10 ms: friction may hold up to {:.2f} mm of skew before the push, and {:.2f} "
        "mm are the limit for it ({})",
        1e3 * out.push.start_skew_m, 1e3 * out.limits.skew_m.value_or(0), out.skew_limit_source);
    out.settled_by =
        "Settle it by measuring the skew at rest instead of what friction may hold: record a standstill and slow "
        "skew steps both ways, which also narrow friction and yaw stiffness; or loosen the bridge by hand until both "
        "sides read its stress-free skew, and push with loops closed from then on. Until then no open-loop push.";
    return out;
  }
  out.found = true;
  out.force_n = force;
  out.time_s = time;
  if (peak) out.level = force / *peak;
  out.bounds = push_bounds(out.push, force * out.scale_high, time);
  out.binding = binding_limit(out.bounds, out.limits);
  return out;
}

}  // namespace evenbeam::limits
