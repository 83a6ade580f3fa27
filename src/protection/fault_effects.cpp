// Faults and reactions as changes of a run (docs/faults.md).
#include <algorithm>
#include <cmath>

#include "protection/running_fault.h"
#include "protection/stepper.h"

namespace evenbeam::protection {
namespace {

constexpr double kLongest_s = 20;  // coasting
constexpr double kYawPeriods = 4;  // of quick runs, after the reaction
constexpr double kCarriageStep_s = 2e-3;

SideMode& failed(Running& r) { return r.scenario->side == FaultySide::a ? r.mode.a : r.mode.b; }

void brakes_from(Running& r) {
  const FaultSizes& s = r.scenario->sizes;
  const FaultKind fault = r.scenario->fault;
  const double late = fault == FaultKind::brake_late ? s.brake_fault_s : s.brake_late_s;
  r.brake_a_s = r.now_s + s.brake_close_a_s + (r.scenario->late_a ? late : 0);
  r.brake_b_s = r.now_s + s.brake_close_b_s + (r.scenario->late_a ? 0 : late);
  if (fault == FaultKind::brake_fails) (r.scenario->late_a ? r.brake_a_s : r.brake_b_s) = never_s;
}

// A ramp to rest from the reference's present speed.
void ramp_down(Running& r) {
  const double speed = r.z[v_ref];
  r.reference_runs = false;
  r.mode.jerk_m_per_s3 = 0;
  r.z[a_ref] = speed > 0 ? -r.scenario->sizes.stop_m_per_s2 : r.scenario->sizes.stop_m_per_s2;
  if (speed == 0) r.z[a_ref] = 0;
  r.ramp_end_s = r.now_s + std::abs(speed) / r.scenario->sizes.stop_m_per_s2;
  if (r.scenario->reaction != Reaction::hold) r.off_s = r.ramp_end_s + after_ramp_s;
}

}  // namespace

void see(Running& r, SeenBy by) {
  r.out.seen = true;
  r.out.seen_by = by;
  r.out.seen_s = r.now_s;
  r.reaction_s = r.now_s + r.scenario->latency_s;
  if (r.scenario->fault == FaultKind::side_off_unseen) r.reaction_s += r.scenario->sizes.sensed_late_s;
}

void throw_on(Running& r) {
  const FaultSizes& s = r.scenario->sizes;
  ThrownCarriage& c = r.carriage;
  const double way = r.scenario->late_a ? -1 : 1, end = r.scenario->late_a ? s.carriage_min_y_m : s.carriage_max_y_m;
  const double y = r.model.carriage_y_m;
  double gain = way * s.carriage_m_per_s2;
  if (std::abs(c.speed_m_per_s) >= s.carriage_m_per_s) gain = 0;
  if (!c.hit && (end - y) * way <= s.carriage_buffer_m) c.hit = true;
  if (c.hit) gain = -way * s.carriage_m_per_s * s.carriage_m_per_s / (2 * s.carriage_buffer_m);
  const double before = c.speed_m_per_s;
  c.speed_m_per_s = std::clamp(before + gain * kCarriageStep_s, -s.carriage_m_per_s, s.carriage_m_per_s);
  if (c.hit && c.speed_m_per_s * way < 0) c.speed_m_per_s = 0;
  const double gained = (c.speed_m_per_s - before) / kCarriageStep_s;
  r.mode.yaw_push_n = -r.model.carriage_kg * r.model.carriage_ahead_m * gained / r.model.span_m;
  const double place = y + (before + c.speed_m_per_s) / 2 * kCarriageStep_s;
  move_carriage(r.model, std::clamp(place, s.carriage_min_y_m, s.carriage_max_y_m));
  const bool over = c.hit && c.speed_m_per_s == 0 && gained == 0;
  c.next_s = over ? never_s : r.now_s + kCarriageStep_s;
}

void break_it(Running& r) {
  const EventModel& m = r.model;
  const bool at_a = r.scenario->side == FaultySide::a;
  const SideModel& side = at_a ? m.a : m.b;
  SideMode& mode = failed(r);
  const double wanted = watched_at(m, r.mode, r.z)[at_a ? wanted_a : wanted_b];
  const double with = r.mode.direction >= 0 ? 1 : -1, sign = r.scenario->late_a ? 1 : -1;
  switch (r.scenario->fault) {
    case FaultKind::side_off:
    case FaultKind::side_off_unseen:
      mode.output = Output::none;
      break;
    case FaultKind::output_held:
      mode.output = Output::held;
      mode.held_n = std::clamp(wanted, -side.peak_n, side.peak_n);
      break;
    case FaultKind::output_full_with:
      mode.output = Output::held, mode.held_n = with * side.peak_n;
      break;
    case FaultKind::output_full_against:
      mode.output = Output::held, mode.held_n = -with * side.peak_n;
      break;
    case FaultKind::feedback_frozen:
      mode.feedback_gain = 0;
      break;
    case FaultKind::feedback_reversed:
      mode.feedback_gain = -1;
      break;
    case FaultKind::feedback_slip: {
      const double level = std::min({r.scenario->trip.skew_m, r.scenario->trip.following_m, 1e-3});
      const double jump = sign * 0.98 * level;  // just not seen on an ideal move
      r.z[mean_error] -= jump / 2;
      r.z[skew_error] -= at_a ? jump : -jump;
      break;
    }
    case FaultKind::brake_drags:
      mode.extra_coulomb_n += at_a ? r.scenario->sizes.brake_a_n : r.scenario->sizes.brake_b_n;
      break;
    case FaultKind::jam:
      mode.extra_coulomb_n += r.scenario->sizes.jam_n;
      break;
    case FaultKind::command_step:
      r.z[mean_error] += sign * r.scenario->sizes.step_m;
      break;
    case FaultKind::carriage_thrown:
      throw_on(r);
      break;
    case FaultKind::power_loss:
    case FaultKind::brake_late:
    case FaultKind::brake_fails:
      r.mode.a.output = r.mode.b.output = Output::none;
      if (r.scenario->sizes.brakes_known) brakes_from(r);
      break;
  }
  settle_mode(m, r.mode, r.z);
}

void react(Running& r) {
  r.reacted = true;
  r.out.reaction_s = r.now_s;
  r.out.at_reaction = r.z;
  const bool both_well = !one_drive_failed(r.scenario->fault), gone = power_is_gone(r.scenario->fault);
  SideMode& other = r.scenario->side == FaultySide::a ? r.mode.b : r.mode.a;
  const Reaction reaction = r.scenario->reaction;
  if (gone || stop_category(reaction) == 0) {
    r.mode.a.output = r.mode.b.output = Output::none;
    if (reaction == Reaction::off_brakes && !gone) brakes_from(r);
    if (reaction == Reaction::dynamic_braking) {
      other.extra_viscous_n_s_per_m = r.scenario->sizes.shorted_n_s_per_m;
      if (both_well) failed(r).extra_viscous_n_s_per_m = r.scenario->sizes.shorted_n_s_per_m;
    }
  } else {
    if (!both_well) failed(r).output = Output::none;
    if (reaction == Reaction::follow && !both_well) other.output = Output::follow;
    ramp_down(r);
  }
  settle_mode(r.model, r.mode, r.z);
  const double ramp = std::isfinite(r.ramp_end_s) ? r.ramp_end_s - r.now_s : 0;
  const double periods = kYawPeriods / std::max(yaw_frequency_hz(r.model), 1.0);
  double brakes = 0;
  for (double closes_s : {r.brake_a_s, r.brake_b_s})
    if (std::isfinite(closes_s)) brakes = std::max(brakes, closes_s - r.now_s);
  r.end_s = r.now_s + (r.scenario->to_standstill ? kLongest_s : ramp + brakes + periods);
  r.held_end_s = r.now_s + ramp + periods;
  if (reaction == Reaction::hold && !gone) r.end_s = r.held_end_s;
}

}  // namespace evenbeam::protection
