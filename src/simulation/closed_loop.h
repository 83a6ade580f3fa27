#pragma once
// A run of the virtual gantry under the loop law: reference in, time series out. Deterministic for a seed.
// Each period k: read both positions, law, record, then the plant moves on to t_{k+1} with the command acting from
// t_k + Plant::delay_s. Assumes loops closed on a standing bridge at the start.
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "servo/structures.h"
#include "simulation/gantry.h"
#include "simulation/loop_breaks.h"
#include "simulation/moving_carriage.h"
#include "simulation/reference_track.h"
#include "trajectory/jerk_limited.h"

namespace evenbeam::simulation {

// Fills in what is empty: skew 0, rates by backward difference. Throws base::InputError where lengths differ.
ReferenceTrack complete(ReferenceTrack track, double period_s);
// Moves one after the other with rests; sampled exactly.
ReferenceTrack track(const std::vector<trajectory::Move>& moves, double rest_s, double period_s);

// The carriage along y on the same clock: moves one after the other with rests, sampled exactly.
std::vector<CarriageMotion> carriage_track(const std::vector<trajectory::Move>& moves, double rest_s,
                                           double period_s);

enum class SideName { a, b };
// A change of what is broken at an instant (takes effect in the period that holds it).
struct FaultEvent {
  double at_s = 0;
  SideName side = SideName::a;
  Broken broken;  // the whole of that side's state from then on
  // Both sides' outputs are switched off at once (emergency off); brakes close where the gantry has them.
  bool all_off = false;
  // From then on the gantry is this one, whatever differs: a coupling that slips, a payload dropped, a guide that
  // came loose, a lag that grew. The same parts must move (drives, bending, carriage elastic or not), and the same
  // delay in whole periods; else it is refused. `broken` and `side` are then not looked at.
  std::optional<Gantry> gantry;
};

struct RunDescription {
  Gantry gantry;
  servo::StructureSettings loops;
  ReferenceTrack reference;
  std::vector<double> added_a_n, added_b_n;  // to the outputs (excitation); empty or one a period
  double start_skew_m = 0;                   // true skew at the start; reference skew counts from the track
  double start_mean_m = 0;                   // the track's mean starts here (its own start is subtracted)
  bool counts_from_start = true;  // feedback reads 0 where it was switched on: start place and skew are the zero
  bool loops_open = false;        // the added outputs alone; period_s of the settings still counts
  std::vector<FaultEvent> faults;
  LoopBreaks breaks;                     // what is wrong between loops, drives and feedback
  std::vector<CarriageMotion> carriage;  // travels: one a period; empty = it stands at the plant's carriage_y_m
  std::uint64_t seed = 1;
  int record_every = 1;  // periods
};

struct RunSeries {
  double period_s = 0;  // between entries
  std::vector<double> time_s, reference_a_m, reference_b_m;
  std::vector<double> position_a_m, position_b_m;  // as read
  std::vector<double> true_a_m, true_b_m;          // bridge ends
  std::vector<double> force_a_n, force_b_n;        // commanded newtons that went to the drives
  double peak_skew_error_m = 0;                    // largest |skew as read - reference skew|, every period
  double peak_true_skew_error_m = 0;               // the same of the bridge ends, start attitude taken out
  double end_a_m = 0, end_b_m = 0;                 // true places after the last period
  long clipped = 0;                                // periods with a side clipped
  double tripped_s = std::numeric_limits<double>::quiet_NaN();  // first trip of LoopBreaks; NaN = none
  bool cancelled = false;
};

// `progress` is called about 100 times with the part done (0..1); returning false cancels. May be empty.
RunSeries run(const RunDescription& description, const std::function<bool(double)>& progress = {});

// The largest skew error, and when |mean error| and |skew error| last left their window after the reference stopped.
struct Forecast {
  double peak_skew_m = 0, rms_skew_m = 0;
  double settle_s = 0;  // NaN where the window is not kept to the end
};
Forecast judge(const RunSeries& series, double window_m);

}  // namespace evenbeam::simulation
