#include "workflow/try_fault.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protection/trips_station.h"
#include "workflow/trial_bounds.h"

namespace evenbeam::workflow {
namespace {

std::vector<machine::PlannedMove> all_moves(const Evaluation& evaluation) {
  std::vector<machine::PlannedMove> moves = evaluation.machine.moves;
  for (const recording::Recording& r : evaluation.recordings) {
    if (r.kind != recording::RunKind::test_move) continue;
    if (auto move = protection::move_as_recorded(r)) {
      move->name = r.name;
      moves.push_back(std::move(*move));
    }
  }
  return moves;
}

machine::PlannedMove chosen_move(const Evaluation& evaluation, const std::string& name) {
  const std::vector<machine::PlannedMove> moves = all_moves(evaluation);
  for (const machine::PlannedMove& move : moves)
    if (name.empty() || move.name == name) return move;
  refuse_trial("move", name.empty() ? "no move" : name, "a [[move]] of machine.toml, or a recorded test move",
               "Describe the machine's own moves in machine.toml, or record one.");
}

// The kind whose words are `word`; the first where it is empty.
template <class Kind>
Kind named(const char* what, const std::string& word, const std::vector<Kind>& known) {
  std::string words;
  for (const Kind kind : known) {
    const std::string text = protection::to_text(kind);
    if (word.empty() || word == text) return kind;
    words += (words.empty() ? "" : ", ") + text;
  }
  refuse_trial(what, word, words, "Choose one of these.");
}

protection::FaultSizes sizes_of(const Evaluation& evaluation) {
  double speed = 0, acceleration = 0;
  for (const machine::PlannedMove& move : all_moves(evaluation)) {
    speed = std::max(speed, move.speed_m_per_s);
    acceleration = std::max(acceleration, move.acceleration_m_per_s2);
  }
  return protection::fault_sizes(evaluation.machine, speed, acceleration);
}

std::string proposed_reaction(const Evaluation& evaluation) {
  const base::StationResult* trips = find_station(evaluation, "trips");
  const base::Value* value = trips != nullptr ? base::find_value(*trips, "reaction") : nullptr;
  const auto* word = value != nullptr ? std::get_if<std::string>(&value->value) : nullptr;
  if (word == nullptr) return {};
  for (const protection::Reaction reaction : protection::all_reactions())
    if (protection::key_of(reaction) == *word || protection::to_text(reaction) == *word)
      return protection::to_text(reaction);
  return {};
}

protection::OrdinaryMove prepared(const Evaluation& evaluation, const machine::PlannedMove& move,
                                  const protection::Place& place) {
  machine::Settings settings = *evaluation.settings;
  settings.share = machine::share_with_carriage_at(settings, place.carriage_y_m);
  const trajectory::Move path =
      trajectory::plan_move(0, move.distance_m, {move.speed_m_per_s, move.acceleration_m_per_s2, move.jerk_m_per_s3});
  protection::OrdinaryMove ordinary =
      protection::ordinary_move(protection::event_model(evaluation.identified->plant, place, settings), place, path);
  if (!ordinary.finished)
    refuse_trial("settings", "loops that chatter or run away in this move", "loops that settle",
                 "Choose another place or payload, or other settings.");
  return ordinary;
}

void keep_trace(const protection::FaultOutcome& run, TriedFault& out) {
  for (const protection::TracePoint& point : run.trace) {
    out.time_s.push_back(point.time_s);
    out.skew_m.push_back(point.state[protection::skew]);
    out.way_m.push_back(point.state[protection::way]);
    out.force_a_n.push_back(point.state[protection::f_a]);
    out.force_b_n.push_back(point.state[protection::f_b]);
  }
}

}  // namespace

std::vector<std::string> moves_for_faults(const Evaluation& evaluation) {
  std::vector<std::string> names;
  for (const machine::PlannedMove& move : all_moves(evaluation)) names.push_back(move.name);
  return names;
}

std::vector<std::string> faults_to_try(const Evaluation& evaluation) {
  std::vector<std::string> words;
  for (const protection::FaultKind kind : protection::possible_faults(sizes_of(evaluation)))
    words.push_back(protection::to_text(kind));
  return words;
}

std::vector<std::string> reactions_to_try() {
  std::vector<std::string> words;
  for (const protection::Reaction reaction : protection::all_reactions())
    words.push_back(protection::to_text(reaction));
  return words;
}

TriedFault try_fault(const Evaluation& evaluation, const FaultTrial& trial) {
  if (!evaluation.identified || !evaluation.identified->plant_known || !evaluation.settings)
    refuse_trial("settings", "no fitted machine or no proposed settings", "both",
                 "Make the captures that stations fit and loops ask for.");
  const machine::Machine& machine = evaluation.machine;
  const machine::PlannedMove move = chosen_move(evaluation, trial.move);
  const protection::Place place{
      trial_within("carriage_y_m", trial.carriage_y_m.value_or(0), -machine.span_m / 2, machine.span_m / 2),
      trial_within("payload_kg", trial.payload_kg.value_or(0), 0, 1e6)};
  const protection::OrdinaryMove ordinary = prepared(evaluation, move, place);
  const protection::FaultSizes sizes = sizes_of(evaluation);
  protection::Scenario scenario{.sizes = sizes, .to_standstill = true, .trace = true};
  scenario.fault = named("fault", trial.fault, protection::possible_faults(sizes));
  scenario.reaction = named("reaction", trial.reaction.empty() ? proposed_reaction(evaluation) : trial.reaction,
                            protection::all_reactions());
  scenario.side = trial.side_is_b ? protection::FaultySide::b : protection::FaultySide::a;
  scenario.fault_s = trial_within("at_part", trial.at_part, 0, 1) * ordinary.move.duration_s;
  scenario.latency_s = trial_within(
      "latency_s", trial.latency_s.value_or(number_of(evaluation, "trips", "latency_s").value_or(0.01)), 0, 10);
  const auto skew_trip = number_of(evaluation, "trips", "skew_trip_m");
  if (skew_trip) scenario.trip.skew_m = *skew_trip;
  if (const auto level = number_of(evaluation, "trips", "following_error_trip_m")) scenario.trip.following_m = *level;
  const protection::FaultOutcome run = protection::run_fault(ordinary, scenario);
  TriedFault out{.move = move.name,
                 .fault = protection::to_text(scenario.fault),
                 .reaction = protection::to_text(scenario.reaction),
                 .reached_standstill = run.stands && run.finished,
                 .seen = run.seen,
                 .fault_s = scenario.fault_s,
                 .latency_s = scenario.latency_s,
                 .carriage_y_m = place.carriage_y_m,
                 .payload_kg = place.payload_kg,
                 .peak_skew_m = run.peak_skew_m,
                 .peak_at_s = run.peak_at_s,
                 .stop_way_m = run.stop_way_m,
                 .stop_s = run.stands_s - scenario.fault_s,
                 .allowable_skew_m = number_of(evaluation, "limits", "allowable_skew_m"),
                 .allowable_yaw_moment_n_m = number_of(evaluation, "limits", "allowable_yaw_moment_n_m"),
                 .skew_trip_m = skew_trip,
                 .assumed = sizes.assumed};
  out.guide_moment_n_m = evaluation.identified->plant.yaw_stiffness_n_m_per_rad * run.peak_skew_m / machine.span_m;
  keep_trace(run, out);
  return out;
}

}  // namespace evenbeam::workflow
