#include "homing/marks_station.h"

#include <algorithm>
#include <cmath>

#include "homing/attitude_findings.h"
#include "homing/drive_method.h"
#include "homing/marks_drift.h"
#include "homing/marks_figures.h"
#include "homing/marks_findings.h"
#include "homing/marks_values.h"
#include "homing/search_findings.h"
#include "homing/search_request.h"
#include "homing/take_out_findings.h"

namespace evenbeam::homing {
namespace {

using base::Value;
using machine::Machine;

constexpr double kBeyond_m = 1e-3;  // past what could still succeed, the picture of a failing start begins

using Parts = MarksParts;

HomeOffsets offsets_of(const Machine& machine, const Marks& marks, const MarksInput& input) {
  HomeOffsets o{.attitude = machine.home_attitude.value_or("free"), .recorded = machine.home_attitude.has_value()};
  o.kept = machine.homing.kept_zero.value_or(machine::KeptZero::side_a);
  o.kept_recorded = machine.homing.kept_zero.has_value();
  o.axis_zero_m = machine.homing.axis_zero_m.value_or(0);
  const bool square = o.attitude == "square";
  const auto chosen = square ? input.square_m : marks.known ? std::optional(marks.b_minus_a_free_m) : std::nullopt;
  if (!chosen) return o;
  o.known = true;
  o.b_minus_a_m = chosen->value, o.lower_m = chosen->lower, o.upper_m = chosen->upper;
  return o;
}

void weigh_attitudes(Parts& parts, const Machine& machine, const MarksInput& input) {
  if (!parts.marks.known || !input.square_m) return;
  const auto &free = parts.marks.b_minus_a_free_m, &square = *input.square_m;
  AttitudeInput& in = parts.attitude_input;
  in.span_m = machine.span_m;
  in.square_skew_m = free.value - square.value;  // skew = a - b
  in.doubt_m = 1.96 * std::hypot(free.sd, square.sd);
  in.yaw_stiffness_n_m_per_rad = input.yaw_stiffness_n_m_per_rad;
  in.turns_freely = parts.turns_freely;
  in.guide_arm_m = input.guide_arm_m, in.guide_standing_force_n = input.guide_standing_force_n;
  in.allowable_skew_m = input.allowable_skew_m;
  in.squareness_wanted_rad = machine.homing.squareness_wanted_rad;
  if (input.squareness_wanted_rad)
    in.squareness_wanted_rad = std::min(*input.squareness_wanted_rad, in.squareness_wanted_rad.value_or(1));
  in.thermal_skew_m = std::max(machine.homing.thermal_skew_m.value_or(0), input.thermal_skew_m.value_or(0));
  parts.trade = attitude_trade(in);
}

void foresee_take_out(Parts& parts, const Machine& machine, const MarksInput& input) {
  TakeOutInput& in = parts.take_out_input;
  const SearchProblem& p = parts.request.problem;
  in.span_m = machine.span_m;
  in.from_skew_m = std::max(std::abs(p.start_skew_m.low), std::abs(p.start_skew_m.high));
  const auto& free = parts.marks.b_minus_a_free_m;
  if (parts.offsets.known && parts.marks.known) in.to_skew_m = free.value - parts.offsets.b_minus_a_m;
  if (parts.marks.known) in.doubt_m = (free.upper - free.lower) / 2;
  // From the side further away.
  if (in.to_skew_m > 0) in.from_skew_m = -in.from_skew_m;
  in.search_speed_m_per_s = p.speed_m_per_s;
  in.turns_freely = parts.turns_freely;
  in.yaw_stiffness_n_m_per_rad = input.yaw_stiffness_n_m_per_rad;
  if (input.coulomb_a_n && input.coulomb_b_n) in.friction_n = input.coulomb_a_n->upper + input.coulomb_b_n->upper;
  in.allowable_skew_m = input.allowable_skew_m, in.allowable_moment_n_m = input.allowable_moment_n_m;
  if (machine.a.continuous_force_n && machine.b.continuous_force_n)
    in.force_limit_n = std::min(*machine.a.continuous_force_n, *machine.b.continuous_force_n);
  parts.take_out = take_out(in);
  const bool moves = parts.take_out.advice == Advice::one_go || parts.take_out.advice == Advice::in_steps;
  if (moves && !parts.turns_freely && input.virtual_machine && input.virtual_machine->loops.period_s > 0)
    parts.played = play_take_out(in, parts.take_out, *input.virtual_machine);
}

Parts work_out(const std::vector<recording::Recording>& recordings, const Machine& machine,
               const identification::MotionFit& motion, const MarksInput& input) {
  Parts parts;
  parts.turns_freely = machine.guides.ends == machine::EndKind::pivoted;
  parts.marks = find_marks(recordings, motion, machine, input.allowable_skew_m);
  // The search keeps the guide moment, too.
  const std::optional<double> allowed =
      allowed_skew_m(input.allowable_skew_m, parts.turns_freely ? std::nullopt : input.allowable_moment_n_m,
                     input.yaw_stiffness_n_m_per_rad, machine.span_m);
  parts.request = search_request(machine, parts.marks, allowed,
                                 {.coulomb_a_n = input.coulomb_a_n,
                                  .coulomb_b_n = input.coulomb_b_n,
                                  .viscous_a_n_s_per_m = input.viscous_a_n_s_per_m,
                                  .viscous_b_n_s_per_m = input.viscous_b_n_s_per_m,
                                  .force_scale_a = input.force_scale_a,
                                  .force_scale_b = input.force_scale_b,
                                  .yaw_stiffness_n_m_per_rad = input.yaw_stiffness_n_m_per_rad,
                                  .moving_mass_kg = input.moving_mass_kg});
  if (parts.request.possible) parts.plan = plan_search(parts.request.problem);
  parts.offsets = offsets_of(machine, parts.marks, input);
  weigh_attitudes(parts, machine, input);
  if (parts.request.possible) foresee_take_out(parts, machine, input);
  return parts;
}

SearchRecipe recipe_of(const Parts& parts) {
  SearchRecipe r;
  const SearchProblem& p = parts.request.problem;
  const SearchPlan& plan = parts.plan;
  r.known = parts.request.possible && plan.possible;
  if (!r.known) {
    r.reason = parts.request.missing.empty() ? plan.reason : parts.request.missing.front();
    return r;
  }
  const SearchCase& way = plan.way;
  // Homed with unknown offsets the bridge would be racked by what is not known.
  r.promised = plan.promised && parts.offsets.known;
  if (!plan.promised) r.reason = "it can fail from a start within the stated ranges";
  if (!parts.offsets.known) r.reason = "the home offsets are not known";
  r.words = recipe_text(p, plan);
  r.reference = p.reference, r.controller = p.controller;
  r.direction = way.direction, r.a_leads = way.a_leads, r.backs_off = way.backs_off;
  r.speed_m_per_s = p.speed_m_per_s, r.acceleration_m_per_s2 = p.acceleration_m_per_s2;
  r.overtravel_m = way.overtravel_m, r.beyond_first_mark_m = way.beyond_first_m;
  r.start_before_first_mark_m = way.start_before_first_m;
  r.longest_run_m = way.longest_run_m, r.longest_other_m = way.longest_other_m;
  r.search_time_out_s = plan.longest_s;
  if (way.backs_off) r.back_off_time_out_s = plan.longest_back_off_s;
  r.latch_difference_m = plan.latch_difference_m;
  r.pitch_m = p.pitch_m.value_or(0);
  r.stop_force_n = p.stop_force_n.value_or(0);
  if (p.allowable_skew_m)
    r.largest_skew_change_m = std::max(0.0, *p.allowable_skew_m - parts.take_out_input.from_skew_m);
  if (parts.offsets.known) {
    r.home_offset_a_m = offset_a(parts.offsets).value_m;
    r.home_offset_b_m = offset_b(parts.offsets).value_m;
  }
  r.end_skew_m = 0;  // positions read equal in the attitude chosen
  r.skew_rate_m_per_s = parts.take_out.rate_m_per_s, r.skew_time_out_s = 1.5 * parts.take_out.time_s + 1;
  r.largest_fight_n = parts.take_out.largest_fight_n;
  r.method_a = r.method_b = drive_method(p, plan);
  return r;
}

void put_angles(base::StationOutcome& out, const machine::ElectricalAngle& angle) {
  for (const auto& [side, read] : {std::pair("A", &angle.a), std::pair("B", &angle.b)}) {
    if (read->read_rad.empty()) continue;
    const AngleAtMark at_mark = angle_at_mark(*read);
    out.result.findings.push_back(angle_finding(at_mark, side, angle.loss_limit));
    if (!at_mark.done) continue;
    const std::string name = std::string("electrical_angle_") + (side[0] == 'A' ? "a" : "b");
    out.result.values.emplace_back(name + "_rad", Value{.value = at_mark.angle_rad, .unit = "rad"});
    out.result.values.emplace_back(name + "_spread_rad", Value{.value = at_mark.spread_rad, .unit = "rad"});
    out.result.values.emplace_back(name + "_force_lost", Value{.value = at_mark.loss_expected, .unit = "1"});
  }
}

void draw(base::StationOutcome& out, const Parts& parts, const std::vector<recording::Recording>& recordings,
          const MarksInput& input) {
  if (!parts.marks.runs.empty()) out.figures.push_back(mark_map(parts.marks));
  if (parts.marks.known) out.figures.push_back(fight_figure(recordings, parts.marks));
  const SearchProblem& p = parts.request.problem;
  const SearchPlan& plan = parts.plan;
  const auto show = [&](const std::optional<FailingStart>& start, bool fails) {
    if (start) {
      const Replay replay = replay_search(p, plan, *start, input.virtual_machine);
      out.figures.push_back(replay_figure(p, replay, *start, fails));
    }
  };
  // The promise wants the mark met at full speed and the skew astray the wrong way; a picture has neither.
  const double run_up = p.speed_m_per_s * p.speed_m_per_s / 2 / p.acceleration_m_per_s2;
  const double beyond = kBeyond_m + run_up + 2 * p.hold_error_m;
  const bool drawn = p.reference != Reference::absolute && p.reference != Reference::distance_coded;
  if (plan.possible && drawn && plan.promised)
    show(latest_start(plan, 0), false), show(latest_start(plan, beyond), true);
  if (plan.possible && drawn && !plan.promised) show(worst_trouble(plan).start, true);
  if (!parts.take_out.way.empty() && !parts.turns_freely)
    out.figures.push_back(take_out_figure(parts.take_out, parts.take_out_input, parts.played));
  if (parts.trade && parts.trade->known) out.figures.push_back(trade_figure(*parts.trade, parts.attitude_input));
}

// How the marks part as it warms, where searches state their temperature.
void add_drift(base::StationResult& result, const Marks& marks, const std::vector<recording::Recording>& recordings,
               const Machine& machine, const MarksInput& input) {
  constexpr double else_m = 0.1e-3;  // common practice, no source
  auto wanted = machine.homing.squareness_wanted_rad;
  if (input.squareness_wanted_rad) wanted = std::min(*input.squareness_wanted_rad, wanted.value_or(1));
  const double band_m = wanted ? *wanted * machine.span_m : else_m;
  const MarksDrift drift = marks_drift(marks.runs, recordings);
  if (auto f =
          drift_finding(drift, band_m, wanted ? "squareness wanted times the span" : "common practice, no source"))
    result.findings.push_back(std::move(*f));
  if (!drift.known) return;
  const math::Estimate& k = drift.per_k;
  result.values.emplace_back("marks_drift_m_per_k",
                             Value{.value = k.value, .unit = "m/K", .lower = k.lower, .upper = k.upper});
  result.values.emplace_back("search_again_after_k",
                             Value{.value = search_again(drift, band_m).after_k, .unit = "K"});
}

}  // namespace

MarksOutcome marks_station(const std::vector<recording::Recording>& recordings, const Machine& machine,
                           const identification::MotionFit& motion, const MarksInput& input) {
  MarksOutcome out{.outcome = {.result = {.name = "marks"}}};
  const Parts parts = work_out(recordings, machine, motion, input);
  out.recipe = recipe_of(parts);
  auto& findings = out.outcome.result.findings;
  findings = marks_findings(parts.marks, input.allowable_skew_m);
  const bool asked = !parts.marks.runs.empty() || machine.homing.reference || machine.homing.start.from_m;
  if (asked) {
    for (base::Finding& f : search_findings(parts.request, parts.plan, parts.marks)) findings.push_back(std::move(f));
    if (parts.request.possible && parts.marks.known) {
      findings.push_back(offsets_finding(parts.offsets));
      findings.push_back(take_out_finding(parts.take_out, parts.take_out_input, parts.played));
    }
    if (parts.trade) findings.push_back(trade_finding(*parts.trade, parts.offsets));
    put_marks_values(out.outcome.result, parts, input, out.recipe);
    add_drift(out.outcome.result, parts.marks, recordings, machine, input);
    draw(out.outcome, parts, recordings, input);
  }
  put_angles(out.outcome, machine.electrical_angle);
  out.outcome.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::homing
