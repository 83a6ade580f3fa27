#include "protection/fault_run.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "protection/coasting.h"
#include "protection/stepper.h"

namespace evenbeam::protection {
namespace {

constexpr double kAfterRamp_s = 0.05;  // a controlled stop keeps power that much longer
constexpr double kLongest_s = 20;      // coasting
constexpr double kYawPeriods = 4;      // of quick runs, after the reaction

constexpr double kCarriageStep_s = 2e-3;

// The carriage on its own way, `to_a` or to the other end.
struct ThrownCarriage {
  double next_s = never_s, speed_m_per_s = 0;  // signed
  bool hit = false;
};

// A run in progress.
struct Running {
  const OrdinaryMove& ordinary;
  const Scenario& scenario;
  EventModel model;
  ThrownCarriage carriage;
  FaultOutcome out;
  State z{};
  Mode mode;
  double now_s = 0;
  double reaction_s = never_s, ramp_end_s = never_s, off_s = never_s, brake_a_s = never_s, brake_b_s = never_s;
  double end_s = never_s;
  bool reacted = false, reference_runs = true;
  bool unsettled = true;  // who stands and whose output is clipped may have changed
};

SideMode& failed(Running& r) { return r.scenario.side == FaultySide::a ? r.mode.a : r.mode.b; }

void see(Running& r, SeenBy by) {
  r.out.seen = true;
  r.out.seen_by = by;
  r.out.seen_s = r.now_s;
  r.reaction_s = r.now_s + r.scenario.latency_s;
  if (r.scenario.fault == FaultKind::side_off_unseen) r.reaction_s += r.scenario.sizes.sensed_late_s;
}

void brakes_from(Running& r) {
  const FaultSizes& s = r.scenario.sizes;
  const FaultKind fault = r.scenario.fault;
  const double late = fault == FaultKind::brake_late ? s.brake_fault_s : s.brake_late_s;
  r.brake_a_s = r.now_s + s.brake_close_a_s + (r.scenario.late_a ? late : 0);
  r.brake_b_s = r.now_s + s.brake_close_b_s + (r.scenario.late_a ? 0 : late);
  if (fault == FaultKind::brake_fails) (r.scenario.late_a ? r.brake_a_s : r.brake_b_s) = never_s;
}

// The next 2 ms of a thrown carriage: gains speed, is stopped over the buffer at the end of its travel.
void throw_on(Running& r) {
  const FaultSizes& s = r.scenario.sizes;
  ThrownCarriage& c = r.carriage;
  const double way = r.scenario.late_a ? -1 : 1, end = r.scenario.late_a ? s.carriage_min_y_m : s.carriage_max_y_m;
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
  const bool at_a = r.scenario.side == FaultySide::a;
  const SideModel& side = at_a ? m.a : m.b;
  SideMode& mode = failed(r);
  const double wanted = watched_at(m, r.mode, r.z)[at_a ? wanted_a : wanted_b];
  const double with = r.mode.direction >= 0 ? 1 : -1, sign = r.scenario.late_a ? 1 : -1;
  switch (r.scenario.fault) {
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
      const double level = std::min({r.scenario.trip.skew_m, r.scenario.trip.following_m, 1e-3});
      const double jump = sign * 0.98 * level;  // just not seen on an ideal move
      r.z[mean_error] -= jump / 2;
      r.z[skew_error] -= at_a ? jump : -jump;
      break;
    }
    case FaultKind::brake_drags:
      mode.extra_coulomb_n += at_a ? r.scenario.sizes.brake_a_n : r.scenario.sizes.brake_b_n;
      break;
    case FaultKind::jam:
      mode.extra_coulomb_n += r.scenario.sizes.jam_n;
      break;
    case FaultKind::command_step:
      r.z[mean_error] += sign * r.scenario.sizes.step_m;
      break;
    case FaultKind::carriage_thrown:
      throw_on(r);
      break;
    case FaultKind::power_loss:
    case FaultKind::brake_late:
    case FaultKind::brake_fails:
      r.mode.a.output = r.mode.b.output = Output::none;
      if (r.scenario.sizes.brakes_known) brakes_from(r);
      break;
  }
  settle_mode(m, r.mode, r.z);
}

// A ramp to rest from the reference's present speed.
void ramp_down(Running& r) {
  const double speed = r.z[v_ref];
  r.reference_runs = false;
  r.mode.jerk_m_per_s3 = 0;
  r.z[a_ref] = speed > 0 ? -r.scenario.sizes.stop_m_per_s2 : r.scenario.sizes.stop_m_per_s2;
  if (speed == 0) r.z[a_ref] = 0;
  r.ramp_end_s = r.now_s + std::abs(speed) / r.scenario.sizes.stop_m_per_s2;
  if (r.scenario.reaction != Reaction::hold) r.off_s = r.ramp_end_s + kAfterRamp_s;
}

void react(Running& r) {
  r.reacted = true;
  r.out.reaction_s = r.now_s;
  r.out.at_reaction = r.z;
  const bool both_well = !one_drive_failed(r.scenario.fault), gone = power_is_gone(r.scenario.fault);
  SideMode& other = r.scenario.side == FaultySide::a ? r.mode.b : r.mode.a;
  const Reaction reaction = r.scenario.reaction;
  if (gone || stop_category(reaction) == 0) {
    r.mode.a.output = r.mode.b.output = Output::none;
    if (reaction == Reaction::off_brakes && !gone) brakes_from(r);
    if (reaction == Reaction::dynamic_braking) {
      other.extra_viscous_n_s_per_m = r.scenario.sizes.shorted_n_s_per_m;
      if (both_well) failed(r).extra_viscous_n_s_per_m = r.scenario.sizes.shorted_n_s_per_m;
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
  r.end_s = r.now_s + (r.scenario.to_standstill ? kLongest_s : ramp + brakes + periods);
  if (reaction == Reaction::hold && !gone) r.end_s = r.now_s + ramp + periods;
}

// What is due at this instant.
void due(Running& r) {
  const auto reached = [&](double& t) {
    if (t > r.now_s + 1e-12) return false;
    t = never_s;
    return r.unsettled = true;
  };
  if (r.reference_runs) {
    const Mode before = r.mode;
    follow_reference(r.ordinary.move, r.now_s, r.mode, r.z);
    r.unsettled = r.unsettled || before.jerk_m_per_s3 != r.mode.jerk_m_per_s3 || before.direction != r.mode.direction;
  }
  if (!r.reacted && reached(r.reaction_s)) react(r);
  if (reached(r.ramp_end_s)) {
    r.z[v_ref] = r.z[a_ref] = 0;
    r.mode.direction = 0;
  }
  if (reached(r.off_s)) r.mode.a.output = r.mode.b.output = Output::none;
  if (reached(r.carriage.next_s)) throw_on(r);
  if (reached(r.brake_a_s)) r.mode.a.extra_coulomb_n += r.scenario.sizes.brake_a_n;
  if (reached(r.brake_b_s)) r.mode.b.extra_coulomb_n += r.scenario.sizes.brake_b_n;
  if (r.unsettled) settle_mode(r.model, r.mode, r.z);
  r.unsettled = false;
}

double next_due(const Running& r) {
  double next = std::min({r.ramp_end_s, r.off_s, r.brake_a_s, r.brake_b_s, r.end_s, r.carriage.next_s});
  if (!r.reacted) next = std::min(next, r.reaction_s);
  if (r.reference_runs) next = std::min(next, next_border(r.ordinary.borders_s, r.now_s));
  return next;
}

// Nothing will move again: both stand without power, and their friction takes what the guides still push.
bool stands(const Running& r) {
  const Mode& mode = r.mode;
  const EventModel& m = r.model;
  if (!r.reacted || mode.a.slides != 0 || mode.b.slides != 0) return false;
  if (mode.a.output != Output::none || mode.b.output != Output::none) return false;
  const double spring = m.stiffness_n_per_m * std::abs(r.z[skew]);
  return spring + std::abs(r.z[f_a]) <= m.a.coulomb_n + mode.a.extra_coulomb_n &&
         spring + std::abs(r.z[f_b]) <= m.b.coulomb_n + mode.b.extra_coulomb_n;
}

// Nothing more is to be learnt: the answer asked for is known, or the bridge coasts and no larger skew can come.
bool is_answered(const Running& r) {
  const double peak = r.out.peak_skew_m, asked = r.scenario.asked_m;
  if (asked > 0 && peak > asked) return true;
  const bool coasts = r.reacted && r.mode.a.output == Output::none && r.mode.b.output == Output::none &&
                      !std::isfinite(std::min({r.brake_a_s, r.brake_b_s, r.carriage.next_s})) &&
                      r.mode.yaw_push_n == 0;
  if (!coasts || r.scenario.to_standstill) return false;
  return largest_skew_to_come_m(r.model, r.mode, r.z) <= std::max(peak, asked);
}

void keep_trace(Running& r, const Step& step, double from_s, const Mode& mode) {
  constexpr int points = 10;
  const EventModel& m = r.model;
  Mode asking = mode;  // the loops go on asking a drive that no longer obeys, until the reaction
  if (!r.reacted) asking.a.output = asking.b.output = Output::loop;
  for (int i = 0; i <= points; ++i) {
    const double t = step.length_s * i / points;
    const State z = at(step.series, t);
    const Watched asked = watched_at(m, asking, z);
    const auto lost = [](const SideModel& s, const SideMode& side, double v) {
      return (side.slides * (s.coulomb_n + side.extra_coulomb_n) +
              (s.viscous_n_s_per_m + side.extra_viscous_n_s_per_m) * v) *
             v;
    };
    const double turning = z[v_a] - z[v_b];
    r.out.trace.push_back(
        {from_s + t, z,
         lost(m.a, mode.a, z[v_a]) + lost(m.b, mode.b, z[v_b]) + m.damping_n_s_per_m * turning * turning,
         z[f_a] * z[v_a] + z[f_b] * z[v_b], mode.a.feedback_gain * z[v_a], mode.b.feedback_gain * z[v_b],
         mode.a.output == Output::none && r.reacted ? 0 : asked[wanted_a],
         mode.b.output == Output::none && r.reacted ? 0 : asked[wanted_b]});
  }
}

void one_step(Running& r, double longest_step) {
  Levels levels{never_s, never_s};
  if (!r.out.seen) levels = {r.scenario.trip.skew_m, r.scenario.trip.following_m};
  const Mode before = r.mode;
  const double from_s = r.now_s;
  const double room = next_due(r) - r.now_s;
  const Step step = advance(r.model, r.mode, r.z, std::min(longest_step, room), levels);
  r.now_s = step.met == Met::length && step.length_s >= room * (1 - 1e-12) ? r.now_s + room : r.now_s + step.length_s;
  const Peak peak = largest_skew(step, r.out.peak_skew_m);
  if (peak.size > r.out.peak_skew_m) r.out.peak_skew_m = peak.size, r.out.peak_at_s = from_s + peak.at_s;
  if (r.scenario.trace) keep_trace(r, step, from_s, before);
  if (step.met == Met::skew_trip) see(r, SeenBy::skew_trip);
  if (step.met == Met::following_trip) see(r, SeenBy::following_trip);
  r.unsettled = step.met != Met::length;
  // Dead outputs leave only a tail; below this it is nothing.
  if (r.mode.a.output == Output::none && std::abs(r.z[f_a]) < 1e-3) r.z[f_a] = 0;
  if (r.mode.b.output == Output::none && std::abs(r.z[f_b]) < 1e-3) r.z[f_b] = 0;
}

}  // namespace

FaultOutcome run_fault(const OrdinaryMove& ordinary, const Scenario& scenario) {
  Running r{.ordinary = ordinary, .scenario = scenario, .model = ordinary.model};
  const OrdinaryPiece start = state_at(ordinary, scenario.fault_s);
  r.z = start.state;
  r.mode = start.mode;
  r.now_s = scenario.fault_s;
  r.end_s = std::max(scenario.fault_s, ordinary.move.duration_s) + after_move_s;
  break_it(r);
  r.out.at_fault = r.z;
  r.out.peak_skew_m = std::abs(r.z[skew]);
  r.out.peak_at_s = r.now_s;
  if (drive_tells(scenario.fault))
    see(r, SeenBy::drive);
  else if (std::abs(r.z[skew_error]) >= scenario.trip.skew_m)
    see(r, SeenBy::skew_trip);
  else if (std::abs(r.z[mean_error]) + std::abs(r.z[skew_error]) / 2 >= scenario.trip.following_m)
    see(r, SeenBy::following_trip);
  const double longest = longest_step_s(ordinary.model);
  int steps = 0;
  for (; steps < most_steps; ++steps) {
    due(r);
    if (stands(r)) {
      r.out.stands = true;
      break;
    }
    if (r.now_s >= r.end_s - 1e-12 || is_answered(r)) break;
    one_step(r, longest);
  }
  r.out.finished = steps < most_steps;
  r.out.stands_s = r.now_s;
  r.out.stop_way_m = std::abs(r.z[way] - r.out.at_fault[way]);
  return r.out;
}

}  // namespace evenbeam::protection
