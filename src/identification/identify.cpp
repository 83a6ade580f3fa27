#include "identification/identify.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::identification {
namespace {

using recording::Recording;
using recording::RunKind;

// Multisine recordings made at one carriage place with one sample and excitation period.
std::vector<const Recording*> response_set(const std::vector<Recording>& recordings) {
  std::vector<const Recording*> out;
  for (const Recording& r : recordings) {
    if (r.kind != RunKind::multisine || !has_positions(r) || !has_forces(r) || !(r.first_period_s > 0)) continue;
    if (!out.empty() && (out.front()->carriage_y_m != r.carriage_y_m || out.front()->payload_kg != r.payload_kg ||
                         std::abs(out.front()->period_s - r.period_s) > 1e-9 ||
                         std::abs(out.front()->first_period_s - r.first_period_s) > 0.5 * r.period_s))
      continue;
    out.push_back(&r);
  }
  return out;
}

signal::Response measure(const std::vector<const Recording*>& set) {
  std::vector<signal::Experiment> experiments;
  for (const Recording* r : set)
    experiments.push_back({r->position_a_m, r->position_b_m, r->force_a_n, r->force_b_n, {}, {}});
  signal::ResponseOptions options;
  options.sample_s = set.front()->period_s;
  options.period_s = set.front()->first_period_s;
  // A time column of few digits tells the sample period a little off; the excitation's period is a whole number of
  // samples.
  const double samples = options.period_s / options.sample_s, whole = std::round(samples);
  if (std::abs(samples - whole) < 1e-4 * samples && std::abs(samples - whole) < 0.5)
    options.sample_s = options.period_s / whole;
  options.from_hz = 1;
  return signal::measure_response(experiments, options);
}

dynamics::Plant in_real_newtons(dynamics::Plant p, double g) {
  p.fixed_mass_kg *= g;
  p.fixed_moment_kg_m *= g;
  p.fixed_inertia_kg_m2 *= g;
  p.carriage_mass_kg *= g;
  p.yaw_stiffness_n_m_per_rad *= g;
  p.yaw_damping_n_m_s_per_rad *= g;
  p.bending_mass_kg *= g;
  for (auto* side : {&p.a, &p.b}) {
    side->motor_mass_kg *= g;
    side->drive_stiffness_n_per_m *= g;
    side->drive_damping_n_s_per_m *= g;
    side->coulomb_n *= g;
    side->viscous_n_s_per_m *= g;
    side->force_scale *= g;
  }
  return p;
}

// The motion fit once more, with what the response tells; friction and the stress-free skew then go into the plant.
void hold_motion_to_response(Identified& id, const MotionWindows& windows, const std::vector<Recording>& recordings,
                             const machine::Machine& machine) {
  const MotionFit held = fit_motion(windows, recordings, machine, id.grey.knowledge);
  if (!held.done) return;
  id.motion = held;
  const dynamics::Plant rigid = rigid_plant(held, machine);
  dynamics::Plant& p = id.grey.plant;
  p.stress_free_skew_m = rigid.stress_free_skew_m;
  p.a.coulomb_n = rigid.a.coulomb_n;
  p.b.coulomb_n = rigid.b.coulomb_n;
  p.a.viscous_n_s_per_m = rigid.a.viscous_n_s_per_m;
  p.b.viscous_n_s_per_m = rigid.b.viscous_n_s_per_m;
}

}  // namespace

math::Estimate together(const math::Estimate& a, const math::Estimate& b) {
  const double wa = 1 / (a.sd * a.sd), wb = 1 / (b.sd * b.sd);
  // Where the two differ by more than their uncertainties allow, both are widened until they do not (Birge ratio).
  const double apart = std::abs(a.value - b.value) / std::hypot(a.sd, b.sd);
  return math::with_sd((wa * a.value + wb * b.value) / (wa + wb), std::max(1.0, apart) / std::sqrt(wa + wb),
                       std::max(a.from_data, b.from_data));
}

math::Estimate in_real_newtons(const math::Estimate& quantity, const ForceScale& scale) {
  const double g = scale.common.value;
  return math::with_sd(g * quantity.value, std::hypot(g * quantity.sd, scale.common.sd * quantity.value),
                       quantity.from_data);
}

Identified identify(const std::vector<Recording>& recordings, const machine::Machine& machine) {
  Identified out;
  const MotionWindows windows = motion_windows(recordings, machine);
  out.motion = fit_motion(windows, recordings, machine);
  // Where a side answers against its output, the best fit is a machine that cannot be; it is no machine to tune for.
  if (out.motion.done)
    if (const auto troubles = dynamics::plant_troubles(rigid_plant(out.motion, machine)); !troubles.empty()) {
      out.motion.done = false;
      out.motion.reason = "the recordings fit no possible machine (" + troubles.front() +
                          "): look at the signs and the sides that station nudge names";
    }
  const std::vector<const Recording*> set = response_set(recordings);
  if (set.size() >= 2) {
    out.response = measure(set);
    for (const Recording* r : set) out.response_recordings.push_back(r->name);
    out.response_carriage_y_m = set.front()->carriage_y_m.value_or(machine.carriage_y_m.value_or(0));
  } else {
    out.response.reason = "two recordings with periodic excitation are needed, one on each side";
  }
  out.grey = fit_grey_box(out.response, out.motion, machine, out.response_carriage_y_m,
                          set.empty() ? 0 : set.front()->payload_kg.value_or(0));
  if (out.grey.done) hold_motion_to_response(out, windows, recordings, machine);
  if (out.motion.done && !out.grey.done && out.response.state == signal::ResponseState::done)
    out.motion = fit_motion(windows, recordings, machine, {.contradicts = true});
  out.scale = force_scale(out.motion, machine);
  if (!out.motion.done) return out;
  out.plant =
      in_real_newtons(out.grey.done ? out.grey.plant : rigid_plant(out.motion, machine), out.scale.common.value);
  const std::vector<std::string> troubles = dynamics::plant_troubles(out.plant);
  out.plant_known = troubles.empty();
  if (!out.plant_known) out.plant_reason = "the numbers fitted make no machine (" + troubles.front() + ")";
  return out;
}

}  // namespace evenbeam::identification
