#include "protection/fault_run.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "protection/coasting.h"
#include "protection/running_fault.h"
#include "protection/stepper.h"

namespace evenbeam::protection {
namespace {

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
  if (reached(r.brake_a_s)) r.mode.a.extra_coulomb_n += r.scenario->sizes.brake_a_n;
  if (reached(r.brake_b_s)) r.mode.b.extra_coulomb_n += r.scenario->sizes.brake_b_n;
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
  const double peak = r.out.peak_skew_m, asked = r.scenario->asked_m;
  if (asked > 0 && peak > asked) return true;
  const bool coasts = r.reacted && r.mode.a.output == Output::none && r.mode.b.output == Output::none &&
                      !std::isfinite(std::min({r.brake_a_s, r.brake_b_s, r.carriage.next_s})) &&
                      r.mode.yaw_push_n == 0;
  if (!coasts || r.scenario->to_standstill) return false;
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
  if (!r.out.seen) levels = {r.scenario->trip.skew_m, r.scenario->trip.following_m};
  const Mode before = r.mode;
  const double from_s = r.now_s;
  const double room = next_due(r) - r.now_s;
  const Step step = advance(r.model, r.mode, r.z, std::min(longest_step, room), levels);
  r.now_s = step.met == Met::length && step.length_s >= room * (1 - 1e-12) ? r.now_s + room : r.now_s + step.length_s;
  const Peak peak = largest_skew(step, r.out.peak_skew_m);
  if (peak.size > r.out.peak_skew_m) r.out.peak_skew_m = peak.size, r.out.peak_at_s = from_s + peak.at_s;
  if (r.scenario->trace) keep_trace(r, step, from_s, before);
  if (step.met == Met::skew_trip) see(r, SeenBy::skew_trip);
  if (step.met == Met::following_trip) see(r, SeenBy::following_trip);
  r.unsettled = step.met != Met::length;
  // Dead outputs leave only a tail; below this it is nothing.
  if (r.mode.a.output == Output::none && std::abs(r.z[f_a]) < 1e-3) r.z[f_a] = 0;
  if (r.mode.b.output == Output::none && std::abs(r.z[f_b]) < 1e-3) r.z[f_b] = 0;
}

// At the instant of the fault, before the first step.
Running begin(const OrdinaryMove& ordinary, const Scenario& scenario) {
  Running r{.ordinary = ordinary, .scenario = &scenario, .model = ordinary.model};
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
  return r;
}

// Until the run is over, or `parts` says that others go another way from here.
template <class Parts>
void go_on(Running& r, Parts parts) {
  const double longest = longest_step_s(r.ordinary.model);
  for (; r.steps < most_steps && !r.over; ++r.steps) {
    if (parts(r)) return;
    due(r);
    r.out.stands = stands(r);
    r.over = r.out.stands || r.now_s >= r.end_s - 1e-12 || is_answered(r);
    if (r.over) break;
    one_step(r, longest);
  }
  r.over = true;
  r.out.finished = r.steps < most_steps;
  r.out.stands_s = r.now_s;
  r.out.stop_way_m = std::abs(r.z[way] - r.out.at_fault[way]);
}

bool never(const Running&) { return false; }
bool is_to_react(const Running& r) { return !r.reacted && r.reaction_s <= r.now_s + 1e-12; }
// The next step of a controlled stop may be shorter because power is removed at its end.
bool is_to_let_go(const Running& r) { return r.reacted && r.off_s <= r.now_s + longest_step_s(r.ordinary.model); }

// A controlled stop from the reaction on, and with it the same stop with power held.
void stop_and_hold(Running& stop, FaultOutcome& held, const Scenario& hold) {
  go_on(stop, is_to_let_go);
  Running other = stop;
  other.scenario = &hold;
  other.off_s = never_s, other.end_s = stop.held_end_s;
  go_on(other, never);
  held = std::move(other.out);
  go_on(stop, never);
}

size_t find(const std::vector<Scenario>& scenarios, Reaction reaction) {
  const auto is = [&](const Scenario& s) { return s.reaction == reaction; };
  return static_cast<size_t>(std::find_if(scenarios.begin(), scenarios.end(), is) - scenarios.begin());
}

}  // namespace

FaultOutcome run_fault(const OrdinaryMove& ordinary, const Scenario& scenario) {
  Running r = begin(ordinary, scenario);
  go_on(r, never);
  return std::move(r.out);
}

std::vector<FaultOutcome> run_alike(const OrdinaryMove& ordinary, const std::vector<Scenario>& scenarios) {
  const Scenario& first = scenarios.front();
  for (const Scenario& s : scenarios)
    base::check(s.fault == first.fault && s.side == first.side && s.fault_s == first.fault_s &&
                    s.latency_s == first.latency_s && s.asked_m == first.asked_m,
                "scenarios are alike until their reactions", {s.fault_s, first.fault_s});
  Running alike = begin(ordinary, first);
  go_on(alike, is_to_react);
  if (alike.over) return std::vector<FaultOutcome>(scenarios.size(), alike.out);
  std::vector<FaultOutcome> out(scenarios.size());
  const size_t stop = find(scenarios, Reaction::controlled_stop), hold = find(scenarios, Reaction::hold);
  // With steps as long as the power is kept, the first step after the reaction could tell them apart.
  const bool together = std::max(stop, hold) < scenarios.size() && !power_is_gone(first.fault) &&
                        longest_step_s(ordinary.model) < after_ramp_s;
  for (size_t i = 0; i < scenarios.size(); ++i) {
    if (together && i == hold) continue;
    Running one = alike;
    one.scenario = &scenarios[i];
    if (together && i == stop)
      stop_and_hold(one, out[hold], scenarios[hold]);
    else
      go_on(one, never);
    out[i] = std::move(one.out);
  }
  return out;
}

}  // namespace evenbeam::protection
