#pragma once
// Station `prove`: every recorded move judged and compared. Measures: move_measures.h; ringing: ringing.h; which loop
// condition is broken: loop_conditions.h. Keys: docs/formats.md, "values of prove".
#include <optional>
#include <string>
#include <vector>

#include "acceptance/loop_conditions.h"
#include "acceptance/move_measures.h"
#include "acceptance/positioning_file.h"
#include "acceptance/ringing.h"
#include "base/estimate.h"
#include "base/figure.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::acceptance {

// A forecast made with the recording's own loops, before or without looking at its positions.
struct MoveForecast {
  std::string move;  // the recording's name
  double peak_skew_m = 0, lower_m = 0, upper_m = 0;
  std::vector<double> skew_error_m;  // sample by sample where known, else empty; for the figure
};

// What other stations found, commanded newtons where the loops act; absent where they have not run.
struct ProveInput {
  std::optional<base::Estimate> moving_mass_kg;             // M
  std::optional<base::Estimate> yaw_inertia_kg_m2;          // J
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad;  // K_th
  std::optional<base::Estimate> yaw_damping_n_m_s_per_rad;  // C_th
  std::optional<double> viscous_n_s_per_m;                  // both sides together
  std::optional<double> allowable_skew_m;                   // station limits
  std::vector<MoveForecast> forecasts;
  std::vector<PositioningTable> positioning;  // of the job's positioning.toml
  std::vector<double> b_minus_a_m;            // of each search, skew taken out (station marks)
};

// Half window for settling where the machine states none: a common figure for handling axes (common practice, no
// source), but not less than five counts.
inline constexpr double assumed_settle_window_m = 10e-6;

// Ringing put together from the strokes of one move: the same oscillation in at least half of its stretches.
struct MoveRinging {
  std::string coordinate;  // "mean" or "skew"
  Phase phase = Phase::cruise;
  Oscillation strongest;  // of those that agree
  double hz = 0;          // median of those that agree
  double from_s = 0, to_s = 0;
  int agreeing = 0, looked_at = 0;
};

struct JudgedMove {
  const recording::Recording* recording = nullptr;
  MoveMeasures measures;
  std::vector<MoveRinging> ringing;
  std::optional<LoopJudgement> mean_loop, skew_loop;
  const MoveForecast* forecast = nullptr;
};

struct SettleWindow {
  double half_m = 0;
  std::string source;
};
SettleWindow settle_window(const machine::Machine& machine, double count_m);

// A test move, a slow jog, or a run of unknown kind with positions and references that move.
bool is_move(const recording::Recording& recording);
JudgedMove judge_move(const recording::Recording& recording, const machine::Machine& machine, const ProveInput& input,
                      double settle_window_m);

base::StationOutcome prove_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, const ProveInput& input);

}  // namespace evenbeam::acceptance
