#pragma once
// Skew of a move before it is made: the virtual gantry with the fitted plant, its friction and the given settings,
// run on a recorded reference or a planned move. Bands: the same with plants drawn from all that the fit doubts
// jointly (tuning/joint_doubt.h), t times their root mean square distance from the forecast, and a part for what the
// plant leaves out; docs/loops.md, "Bands", says how often they hold. Left out: cogging, pitch and scale errors, and
// whatever mode the plant does not hold.
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/identify.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "recording/recording.h"
#include "simulation/closed_loop.h"
#include "tuning/settling.h"

namespace evenbeam::tuning {

struct ForecastMove {
  std::string name;  // recording file or planned move
  double carriage_y_m = 0, payload_kg = 0;
  simulation::ReferenceTrack reference;
  double first_s = 0;               // file time of the first entry
  std::vector<double> file_time_s;  // of the recording's samples, for its curve; empty for a planned move
};

// The commanded motion of a recording at the servo period, smoothed over 4 ms so that its printed digits don't act as
// jerks. Needs references.
ForecastMove move_of(const recording::Recording& recording, const machine::Machine& machine, double period_s);
ForecastMove move_of(const machine::PlannedMove& planned, const machine::Machine& machine, double period_s);

struct Band {
  double lower = 0, upper = 0;
};

struct MoveForecast {
  std::string name;
  double peak_skew_m = 0, lower_m = 0, upper_m = 0;
  Settling settle;
  double settle_window_m = 0;
  double peak_mean_error_m = 0;
  double peak_force_part = 0, rms_force_part = 0;  // of peak force, the worse side
  double peak_guide_moment_n_m = 0;                // K_th |skew - stress-free skew|/L, both ends together
  Band mean_error_m, force_part,
      guide_moment_n_m;  // of the three peaks, 95 %; the moment's with what friction may hold at the start
  std::vector<double> skew_error_m;      // at the recording's own samples
  std::vector<double> run_skew_error_m;  // every period; kept where options ask for it
};

struct ForecastOptions {
  int draws = 8;
  std::uint64_t seed = 1;
  double settle_window_m = 10e-6;
  double count_a_m = 0, count_b_m = 0;
  bool keep_run = false;
};

MoveForecast forecast(const ForecastMove& move, const identification::Identified& identified,
                      const machine::Settings& settings, const ForecastOptions& options);
MoveForecast forecast(const ForecastMove& move, const identification::Identified& identified,
                      const servo::StructureSettings& settings, const ForecastOptions& options);
// Largest skews of one move with plant k under settings k, four runs side by side.
std::vector<double> peak_skews(const ForecastMove& move, const std::vector<dynamics::Plant>& plants,
                               const std::vector<machine::Settings>& settings, const ForecastOptions& options);
// One run with any plant, forces added to the outputs (one a period, or empty); for learning and fights.
simulation::RunSeries run_move(const ForecastMove& move, dynamics::Plant plant,
                               const servo::StructureSettings& settings, const ForecastOptions& options,
                               const std::vector<double>& added_skew_n = {});

}  // namespace evenbeam::tuning
