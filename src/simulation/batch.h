#pragma once
// Many machines under one reference, for sweeps: four side by side in vector registers (eight where the processor has
// AVX-512), packs spread over threads.
// Each lane gives the bits that the machine gives alone (simulation::run with the neutral law), tested.
// Side by side go machines of one shape (same coordinates, feedback, substeps, delay in whole periods, filters)
// without ripple, brakes, play, friction spots, noise, parting clocks or stress-free skew along x; the others run
// alone. Same results for any count of threads.
#include <functional>
#include <vector>

#include "machine/settings.h"
#include "simulation/closed_loop.h"

namespace evenbeam::simulation {

struct BatchMachine {
  Gantry gantry;
  machine::Settings loops;  // one period for all machines of a batch
  double start_skew_m = 0;
  std::uint64_t seed = 1;
};

struct BatchResult {
  double peak_skew_error_m = 0;  // as read
  double peak_true_skew_error_m = 0;
  double end_a_m = 0, end_b_m = 0;  // where the bridge ends stand at the end (true)
  long clipped = 0;
  bool done = false;  // false where cancelled before its turn
  bool side_by_side = false;
};

// Results in the order of `machines`. `progress` is called between packs with the part done, from one thread at a
// time; returning false cancels. Throws base::InputError for the first machine that prepare or the law refuses.
std::vector<BatchResult> run_batch(const std::vector<BatchMachine>& machines, const ReferenceTrack& reference,
                                   int threads, const std::function<bool(double)>& progress = {});

}  // namespace evenbeam::simulation
