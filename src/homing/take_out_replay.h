#pragma once
// The skew taken out on the virtual gantry: the same ramp of x_A - x_B that take_out.h forecasts, under the loops of
// the search, friction in its bristles, the mean held. A second way to the forecast, with what it leaves out: the
// loops' lag, damping, friction that has not let go yet.
#include <vector>

#include "homing/search_replay.h"
#include "homing/take_out.h"

namespace evenbeam::homing {

struct TakeOutRun {
  std::vector<double> skew_m;                          // off the stress-free attitude
  std::vector<double> moment_n_m;                      // in the guides, K_th s/L + C_th s'/L, signed
  std::vector<double> fight_n;                         // (F_A - F_B)/2, real newtons, signed
  double largest_moment_n_m = 0, largest_fight_n = 0;  // sizes
  double end_skew_m = 0;
  double there_after_s = 0;  // from the beginning of the ramp until it stays within 2 % of the change; NaN: longer
};

// `machine.loops.period_s` > 0; the plant's stress-free skew is set aside, skews count from it.
TakeOutRun play_take_out(const TakeOutInput& input, const TakeOut& plan, const VirtualMachine& machine);

}  // namespace evenbeam::homing
