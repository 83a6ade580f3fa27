#include "workflow/station_calls.h"

#include <algorithm>
#include <cmath>

#include "acceptance/prove_station.h"
#include "base/check.h"
#include "base/side_by_side.h"
#include "diagnosis/causes_station.h"
#include "exporting/handover_station.h"
#include "homing/marks_station.h"
#include "identification/fit_station.h"
#include "identification/survey_station.h"
#include "limits/guide_moment.h"
#include "limits/limits_station.h"
#include "nudge/nudge_station.h"
#include "protection/drawn_plants.h"
#include "protection/trips_station.h"
#include "readiness/ready_station.h"
#include "rehearsal/rehearse_station.h"
#include "squareness/square_station.h"
#include "tuning/loops_station.h"

namespace evenbeam::workflow {
namespace {

const identification::Identified& identified(const Bench& bench) {
  base::check(bench.identified.has_value(), "a station that asks what the captures tell has it in its row");
  return *bench.identified;
}

std::optional<double> number_of(const Bench& bench, const std::string& station, const std::string& key) {
  const auto estimate = estimate_of(bench, station, key);
  return estimate ? std::optional(estimate->value) : std::nullopt;
}

// The numbers under one heading of a list of rows, where a row has it and is not left out.
std::vector<double> column_of(const Bench& bench, const std::string& station, const std::string& key,
                              const std::string& heading) {
  std::vector<double> out;
  for (const base::StationResult& result : bench.done) {
    const base::Value* value = result.name == station ? base::find_value(result, key) : nullptr;
    const auto* rows = value != nullptr ? std::get_if<std::vector<base::Row>>(&value->value) : nullptr;
    if (rows == nullptr) continue;
    for (const base::Row& row : *rows) {
      const auto has = [&](const auto& cell) { return cell.first == "left_out"; };
      if (std::any_of(row.begin(), row.end(), has)) continue;
      if (const auto number = base::find_number(row, heading)) out.push_back(*number);
    }
  }
  return out;
}

// Largest change of the skew by heat, as square left it.
std::optional<double> thermal_skew(const Bench& bench) {
  const auto change = estimate_of(bench, "square", "thermal_change_rad");
  if (!change) return std::nullopt;
  return bench.machine.span_m * std::max(std::abs(change->lower), std::abs(change->upper));
}

// b - a where the bridge is measured square, as square left it.
std::optional<math::Estimate> squared_marks(const Bench& bench) {
  const auto told = estimate_of(bench, "square", "b_minus_a_square_m");
  if (!told) return std::nullopt;
  return math::Estimate{told->value, (told->upper - told->lower) / 2 / 1.959963984540054, told->lower, told->upper};
}

// Largest skew at rest before a move, from the stress-free attitude of the same switch-on.
std::optional<double> standing_skew_m(const std::vector<recording::Recording>& recordings,
                                      const identification::MotionFit& motion) {
  std::optional<double> out;
  for (const recording::Recording& r : recordings) {
    const bool at_rest_first = r.kind == recording::RunKind::test_move || r.kind == recording::RunKind::slow_jog ||
                               r.kind == recording::RunKind::standstill;
    if (!at_rest_first || !has_positions(r) || r.time_s.empty()) continue;
    const double skew = r.position_a_m.front() - r.position_b_m.front();
    for (const identification::SwitchOn& on : motion.switch_ons)
      if (on.name == r.switch_on && std::isfinite(skew))
        out = std::max(out.value_or(0), std::abs(skew - on.stress_free_skew_m.value));
  }
  return out;
}

}  // namespace

std::optional<base::Estimate> estimate_of(const Bench& bench, const std::string& station, const std::string& key) {
  for (const base::StationResult& result : bench.done) {
    const base::Value* value = result.name == station ? base::find_value(result, key) : nullptr;
    if (value == nullptr || !std::holds_alternative<double>(value->value)) continue;
    const double number = std::get<double>(value->value);
    return base::Estimate{number, value->lower.value_or(number), value->upper.value_or(number)};
  }
  return std::nullopt;
}

base::StationOutcome ask_ready(StationInput& bench) {
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  return readiness::ready_station(bench.ready, bench.machine, bench.recordings,
                                  {.yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
                                   .yaw_inertia_kg_m2 = fitted("yaw_inertia_kg_m2"),
                                   .moving_mass_kg = fitted("moving_mass_kg"),
                                   .coulomb_a_n = fitted("coulomb_a_n"),
                                   .coulomb_b_n = fitted("coulomb_b_n"),
                                   .allowable_skew_m = number_of(bench, "limits", "allowable_skew_m")});
}

base::StationOutcome ask_survey(StationInput& bench) {
  const identification::Identified& known = identified(bench);
  return identification::survey_station(bench.recordings, bench.machine,
                                        {.motion = known.motion,
                                         .grey = known.grey,
                                         .force_scale = known.scale.common,
                                         .response = known.response_recordings.empty() ? nullptr : &known.response});
}

base::StationOutcome ask_nudge(StationInput& bench) {
  const identification::Identified& known = identified(bench);
  return nudge::nudge_station(bench.recordings, bench.machine,
                              {.fit = known.motion, .force_scale = known.scale.common});
}

base::StationOutcome ask_causes(StationInput& bench) {
  return diagnosis::causes_station(bench.recordings, bench.machine, identified(bench), bench.done);
}

base::StationOutcome ask_fit(StationInput& bench) {
  return identification::fit_station(bench.recordings, bench.machine, identified(bench));
}

homing::MarksInput marks_input(StationInput& bench) {
  const identification::Identified& known = identified(bench);
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  homing::MarksInput input{.allowable_skew_m = number_of(bench, "limits", "allowable_skew_m"),
                           .allowable_moment_n_m = number_of(bench, "limits", "allowable_yaw_moment_n_m"),
                           .square_m = squared_marks(bench),
                           .squareness_wanted_rad = bench.squareness.wanted_rad,
                           .thermal_skew_m = thermal_skew(bench),
                           .yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
                           .coulomb_a_n = fitted("coulomb_a_n"),
                           .coulomb_b_n = fitted("coulomb_b_n"),
                           .viscous_a_n_s_per_m = fitted("viscous_a_n_s_per_m"),
                           .viscous_b_n_s_per_m = fitted("viscous_b_n_s_per_m"),
                           .moving_mass_kg = fitted("moving_mass_kg"),
                           .force_scale_a = fitted("force_scale_a"),
                           .force_scale_b = fitted("force_scale_b")};
  std::string why_not;
  if (const auto guides = limits::guide_moment(bench.machine, why_not)) {
    input.guide_arm_m = guides->arm_m;
    if (guides->missing_masses.empty()) input.guide_standing_force_n = guides->standing_force_n;
  }
  if (!known.plant_known) return input;
  for (const recording::Recording& r : bench.recordings)
    if (r.kind == recording::RunKind::search && r.loops && !input.virtual_machine)
      input.virtual_machine = homing::VirtualMachine{known.plant, *r.loops};
  return input;
}

base::StationOutcome ask_marks(StationInput& bench) {
  homing::MarksOutcome marks =
      homing::marks_station(bench.recordings, bench.machine, identified(bench).motion, marks_input(bench));
  bench.search = std::move(marks.recipe);
  return marks.outcome;
}

base::StationOutcome ask_square(StationInput& bench) {
  return squareness::square_station(bench.squareness, bench.machine,
                                    {.allowable_skew_m = number_of(bench, "limits", "allowable_skew_m")});
}

base::StationOutcome ask_loops(StationInput& bench) {
  tuning::LoopsOutcome loops = tuning::loops_station(bench.recordings, bench.machine, identified(bench),
                                                     {.skew_m = number_of(bench, "limits", "allowable_skew_m")});
  if (loops.proposal.found) {
    bench.settings = loops.proposal.settings;
    if (loops.proposal.share.follows)
      for (const tuning::SharePlace& place : loops.proposal.share.places)
        bench.settings->share_along.push_back({place.y_m, place.share});
  }
  bench.own_loops = std::move(loops.own_loops);
  bench.proposed_loops = std::move(loops.proposed_loops);
  return loops.outcome;
}

base::StationOutcome ask_limits(StationInput& bench) {
  const identification::MotionFit& motion = identified(bench).motion;
  const bool placed = motion.done && motion.carriage_known;
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  const limits::LimitsInput input{
      .yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
      .yaw_damping_n_m_s_per_rad = fitted("yaw_damping_n_m_s_per_rad"),
      .moving_mass_kg = fitted("moving_mass_kg"),
      .yaw_inertia_kg_m2 = fitted("yaw_inertia_kg_m2"),
      .carriage_y_m = placed ? std::optional(motion.carriage_y_m) : bench.machine.carriage_y_m,
      .coulomb_a_n = fitted("coulomb_a_n"),
      .coulomb_b_n = fitted("coulomb_b_n"),
      .force_scale_a = fitted("force_scale_a"),
      .force_scale_b = fitted("force_scale_b"),
      .standing_skew_m = standing_skew_m(bench.recordings, motion)};
  return limits::limits_station(bench.machine, input);
}

rehearsal::RehearseInput rehearse_input(StationInput& bench) {
  const identification::Identified& known = identified(bench);
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  rehearsal::RuleTable table = bench.rules;
  if (!table.amounts.push_n) {  // the job's own rehearsal.toml goes before `limits`
    table.amounts.push_n = number_of(bench, "limits", "push_force_n");
    if (table.amounts.push_n)
      table.amounts.push_s = number_of(bench, "limits", "push_time_s").value_or(table.amounts.push_s);
  }
  return {.table = std::move(table),
          .plant = known.plant_known ? std::optional(known.plant) : std::nullopt,
          .known = {.moving_mass_kg = fitted("moving_mass_kg"),
                    .yaw_inertia_kg_m2 = fitted("yaw_inertia_kg_m2"),
                    .yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
                    .yaw_damping_n_m_s_per_rad = fitted("yaw_damping_n_m_s_per_rad"),
                    .coulomb_a_n = fitted("coulomb_a_n"),
                    .coulomb_b_n = fitted("coulomb_b_n"),
                    .force_scale_a = fitted("force_scale_a"),
                    .force_scale_b = fitted("force_scale_b")},
          .settings = bench.settings,
          .allowable_skew_m = number_of(bench, "limits", "allowable_skew_m"),
          .allowable_yaw_moment_n_m = number_of(bench, "limits", "allowable_yaw_moment_n_m")};
}

base::StationOutcome ask_rehearse(StationInput& bench) {
  return rehearsal::rehearse_station(bench.machine, rehearse_input(bench));
}

base::StationOutcome ask_handover(StationInput& bench) {
  return exporting::handover_station(bench.machine, bench.done, bench.settings);
}

namespace {

protection::TripsInput trips_input(StationInput& bench) {
  constexpr int draws = 16;
  constexpr std::uint64_t seed = 1;
  const identification::Identified& known = identified(bench);
  protection::TripsInput input{.plant = known.plant_known ? &known.plant : nullptr,
                               .drawn = protection::drawn_plants(known, draws, seed),
                               .settings = bench.settings,
                               .settings_name = "the loops proposed",
                               .allowable_skew_m = number_of(bench, "limits", "allowable_skew_m"),
                               .standing_skew_m = standing_skew_m(bench.recordings, known.motion).value_or(0),
                               .threads = int(base::machine_threads())};
  for (const tuning::MoveForecast& move : bench.proposed_loops)
    input.forecasts.push_back({move.name, move.peak_skew_m, move.upper_m});
  for (const tuning::MoveForecast& move : bench.own_loops)
    input.own_forecasts.push_back({move.name, move.peak_skew_m, move.upper_m});
  for (const recording::Recording& r : bench.recordings) {
    input.count_m = std::max({input.count_m, r.count_a_m, r.count_b_m});
    if (input.settings || !r.loops || r.kind != recording::RunKind::test_move) continue;
    input.settings = r.loops;  // nothing proposed: what it ran with
    input.settings_name = "the loops of " + r.name;
    if (!(input.settings->period_s > 0)) input.settings->period_s = bench.machine.servo_period_s.value_or(1e-3);
    if (!(input.settings->peak_force_a_n > 0))
      input.settings->peak_force_a_n = bench.machine.a.peak_force_n.value_or(0);
    if (!(input.settings->peak_force_b_n > 0))
      input.settings->peak_force_b_n = bench.machine.b.peak_force_n.value_or(0);
  }
  input.service = {.coulomb_a_n = estimate_of(bench, "fit", "coulomb_a_n"),
                   .coulomb_b_n = estimate_of(bench, "fit", "coulomb_b_n"),
                   .yaw_stiffness_n_m_per_rad = estimate_of(bench, "fit", "yaw_stiffness_n_m_per_rad"),
                   .yaw_inertia_kg_m2 = estimate_of(bench, "fit", "yaw_inertia_kg_m2"),
                   .standing_skew_m = standing_skew_m(bench.recordings, known.motion),
                   .brake_close_a_s = bench.machine.brake_a.close_s,
                   .brake_close_b_s = bench.machine.brake_b.close_s,
                   .span_m = bench.machine.span_m};
  return input;
}

}  // namespace

base::StationOutcome ask_trips(StationInput& bench) {
  return protection::trips_station(bench.recordings, bench.machine, trips_input(bench));
}

base::StationOutcome ask_prove(StationInput& bench) {
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  acceptance::ProveInput input{.moving_mass_kg = fitted("moving_mass_kg"),
                               .yaw_inertia_kg_m2 = fitted("yaw_inertia_kg_m2"),
                               .yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
                               .yaw_damping_n_m_s_per_rad = fitted("yaw_damping_n_m_s_per_rad")};
  const auto viscous_a = fitted("viscous_a_n_s_per_m");
  const auto viscous_b = fitted("viscous_b_n_s_per_m");
  if (viscous_a && viscous_b) input.viscous_n_s_per_m = viscous_a->value + viscous_b->value;
  input.allowable_skew_m = number_of(bench, "limits", "allowable_skew_m");
  for (const tuning::MoveForecast& move : bench.own_loops)
    input.forecasts.push_back({move.name, move.peak_skew_m, move.lower_m, move.upper_m, move.skew_error_m});
  input.positioning = bench.positioning;
  input.b_minus_a_m = column_of(bench, "marks", "searches", "b_minus_a_m");
  return acceptance::prove_station(bench.recordings, bench.machine, input);
}

}  // namespace evenbeam::workflow
