#pragma once
// What may be wrong between loops, drives and feedback, and what the controller's own trips and brakes do in a run.
// Everything neutral as it stands: a run without any of it is the same to the last bit.
#include <limits>
#include <optional>

#include "simulation/gantry.h"

namespace evenbeam::simulation {

struct LoopBreaks {
  bool feedback_crossed = false;  // A's loop reads B's position, and the other way round
  bool outputs_crossed = false;   // A's output goes to B's drive
  // A side whose reference stands gives no output while its own error is inside.
  double deadband_a_m = 0, deadband_b_m = 0;
  // A side beyond its following error is off at once, the other `partner_late_s` later; skew: both at once. 0 = none.
  double following_trip_a_m = 0, following_trip_b_m = 0, skew_trip_m = 0, partner_late_s = 0;
  std::optional<double> brakes_open_s;   // closed before, commanded open then
  std::optional<double> brakes_close_s;  // commanded shut then, loops still on
  std::optional<double> off_s, on_s;     // both outputs off (brakes shut), and on again with the loops' memory empty
};

// Which outputs are off, and from when on they will be.
struct Switches {
  bool a_off = false, b_off = false;
  double a_off_at_s = std::numeric_limits<double>::infinity(), b_off_at_s = a_off_at_s;
};
struct Errors {
  double a_m = 0, b_m = 0;
  double skew_m() const { return a_m - b_m; }
};

// The times of this instant; true where the outputs come on again and the loops must forget.
bool switch_by_time(const LoopBreaks& breaks, Switches& switches, double time_s, double period_s);
// Trips; true where one is met. It acts on this period's outputs already.
bool trip(const LoopBreaks& breaks, Switches& switches, const Errors& errors, double time_s);
// Brakes as commanded: shut where an output is off, or where a time says so.
Commands with_brakes(const LoopBreaks& breaks, const Switches& switches, Commands commands, double time_s);

}  // namespace evenbeam::simulation
