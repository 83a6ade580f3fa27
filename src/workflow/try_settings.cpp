#include "workflow/try_settings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "simulation/linear_loop.h"
#include "tuning/move_forecast.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"
#include "workflow/trial_bounds.h"

namespace evenbeam::workflow {

namespace {

struct Found {
  tuning::ForecastMove move;
  const recording::Recording* recording = nullptr;
};

bool can_be_tried(const recording::Recording& r) {
  return r.kind == recording::RunKind::test_move && recording::has_references(r);
}

Found find_move(const Evaluation& evaluation, const std::string& wanted, double period_s) {
  for (const recording::Recording& r : evaluation.recordings)
    if (can_be_tried(r) && (wanted.empty() || r.name == wanted))
      return {tuning::move_of(r, evaluation.machine, period_s), &r};
  for (const machine::PlannedMove& planned : evaluation.machine.moves)
    if (wanted.empty() || planned.name == wanted) return {tuning::move_of(planned, evaluation.machine, period_s)};
  refuse_trial("move", wanted.empty() ? "no move" : wanted, "a recorded test move with references, or a [[move]]",
               "Record a test move, or describe the machine's own moves in machine.toml.");
}

void scale(machine::CoordinateLoop& loop, double factor) {
  loop.position_gain_per_s *= factor;
  loop.velocity_gain_n_s_per_m *= factor;
}

}  // namespace

std::vector<std::string> moves_to_try(const Evaluation& evaluation) {
  std::vector<std::string> out;
  for (const recording::Recording& r : evaluation.recordings)
    if (can_be_tried(r)) out.push_back(r.name);
  for (const machine::PlannedMove& planned : evaluation.machine.moves) out.push_back(planned.name);
  return out;
}

TriedSettings try_settings(const Evaluation& evaluation, const Trial& trial) {
  if (!evaluation.identified || !evaluation.identified->plant_known || !evaluation.settings)
    refuse_trial("settings", "no fitted machine or no proposed settings", "both",
                 "Make the captures that stations fit and loops ask for.");
  machine::Settings settings = *evaluation.settings;
  Found found = find_move(evaluation, trial.move, settings.period_s);
  TriedSettings out{.move = found.move.name};
  const machine::Machine& machine = evaluation.machine;
  out.carriage_y_m = found.move.carriage_y_m = trial_within(
      "carriage_y_m", trial.carriage_y_m.value_or(found.move.carriage_y_m), -machine.span_m / 2, machine.span_m / 2);
  out.payload_kg = found.move.payload_kg =
      trial_within("payload_kg", trial.payload_kg.value_or(found.move.payload_kg), 0, 1e6);
  out.share = settings.share =
      trial_within("share", trial.share.value_or(share_with_carriage_at(settings, out.carriage_y_m)), 0, 1);
  scale(settings.mean, trial_within("mean_gain", trial.mean_gain, 0.1, 5));
  scale(settings.skew, trial_within("skew_gain", trial.skew_gain, 0.1, 5));
  const dynamics::Plant plant =
      tuning::at_case(evaluation.identified->plant, {.carriage_y_m = out.carriage_y_m, .payload_kg = out.payload_kg});
  out.allowable_skew_m = number_of(evaluation, "limits", "allowable_skew_m");
  out.allowable_yaw_moment_n_m = number_of(evaluation, "limits", "allowable_yaw_moment_n_m");
  out.stable = simulation::stability(plant, settings).stable;
  out.peak_sensitivity = out.stable ? tuning::peak_sensitivity(plant, settings).peak : INFINITY;
  if (!out.stable) return out;
  tuning::ForecastOptions options{.draws = 0};
  if (found.recording != nullptr) {
    options.count_a_m = found.recording->count_a_m;
    options.count_b_m = found.recording->count_b_m;
  }
  const tuning::MoveForecast forecast = tuning::forecast(found.move, *evaluation.identified, settings, options);
  out.peak_skew_m = forecast.peak_skew_m;
  out.peak_force_part = forecast.peak_force_part;
  out.peak_guide_moment_n_m = forecast.peak_guide_moment_n_m;
  if (std::isfinite(forecast.settle.longest_s)) out.settle_s = forecast.settle.longest_s;
  if (found.recording != nullptr) {
    out.time_s = found.recording->time_s;
    out.skew_error_m = forecast.skew_error_m;
  }
  return out;
}

}  // namespace evenbeam::workflow
