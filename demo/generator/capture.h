#pragma once
// One run of the machine under its controller, sample by sample, as a recorder in the controller would keep it.
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "gantry.h"
#include "law.h"
#include "path.h"

namespace generator {

struct Sensing {
  double count_m = 1e-6;
  double noise_counts = 0.2;  // deviation of the reading before it is rounded
  double mark_jitter_m = 0;   // deviation of the place where a mark is seen
  bool on_motor = false;
};

// The run as it is set up. Places are true places along the rails; scales count from `zero_*_m`.
struct RunPlan {
  LoopSettings loops;
  bool loops_closed = true;
  Path path;                                 // of the mean, counted from where the bridge stands
  std::function<Forces(std::size_t)> added;  // per sample: injection, or the push where loops are open
  double start_a_m = 0, start_b_m = 0;
  bool held_by_brakes = false;  // else it settles free for a second before the run
  std::optional<Ends> zeros;    // scale zeros; where absent the scales read 0 at the start
  bool looks_for_marks = false;
  double length_s = 0;
  std::size_t record_every = 1;
  double longest_step_s = 25e-6;
  std::uint64_t seed = 1;
};

struct Capture {
  double period_s = 0;
  bool has_latches = false;
  std::vector<double> reference_a_m, reference_b_m, position_a_m, position_b_m, output_a_n, output_b_n;
  std::vector<double> latched_a_m, latched_b_m;  // NaN until seen
  Ends zeros;
  double clipped_part = 0;    // of the samples, either side
  double largest_skew_m = 0;  // true, against the skew reference
  double lowest_place_m = 0, highest_place_m = 0;
};

Capture run(const TrueGantry& gantry, const Sensing& sensing, const RunPlan& plan);
// Where the bridge comes to rest with its drives off from these places.
Ends settled(const TrueGantry& gantry, double place_a_m, double place_b_m);

}  // namespace generator
