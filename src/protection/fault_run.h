#pragma once
// One fault, one reaction, one run: from the ordinary move through the fault and its detection to standstill.
// The ordinary move is run once a place and kept; every fault starts from its state at the instant of the fault.
// Seen by: the drive itself where it tells (then only the latency counts), else the first of skew trip and following
// error trip, both on the feedback as read. The reaction begins `latency_s` later.
// By symmetry of the model (friction and springs alike both ways) a move backwards with the standing skew s_0 gives
// the sizes of a move forwards with -s_0; moves run forwards only and the range holds both signs of s_0. A thrown
// carriage moves in steps of 2 ms with the masses taken where it is; m_c (2 y' theta' + y'' theta) and its like are
// left out (small yaw), the moment -m_c h y'' is not.
#include <limits>
#include <vector>

#include "protection/fault.h"
#include "protection/ordinary_move.h"

namespace evenbeam::protection {

struct TripLevels {
  double skew_m = std::numeric_limits<double>::infinity();
  double following_m = std::numeric_limits<double>::infinity();
};
struct Scenario {
  FaultKind fault = FaultKind::side_off;
  FaultySide side = FaultySide::a;
  Reaction reaction = Reaction::off;
  double fault_s = 0;    // in the move's own time
  double latency_s = 0;  // seen -> outputs changed
  TripLevels trip;
  FaultSizes sizes;
  bool late_a = true;          // which brake is late; or which way a feedback slips, a carriage runs
  bool to_standstill = false;  // else ends a few yaw periods after the reaction, or once no larger skew can come
  double asked_m = 0;          // > 0: ends as soon as it is known whether the peak passes this
  bool trace = false;
};

struct TracePoint {
  double time_s = 0;  // in the move's own time
  State state{};
  double friction_w = 0, output_w = 0;            // power that friction and damping take, and that the outputs give
  double read_a_m_per_s = 0, read_b_m_per_s = 0;  // speeds as the feedback shows them
  double command_a_n = 0, command_b_n = 0;        // what the loops ask of the drives, before the clip; 0 once let go
};
struct FaultOutcome {
  double peak_skew_m = 0, peak_at_s = 0;  // size, from the stress-free attitude
  bool seen = false;
  SeenBy seen_by = SeenBy::nothing;
  double seen_s = 0, reaction_s = 0;
  State at_fault{}, at_reaction{};
  bool stands = false;
  double stands_s = 0, stop_way_m = 0;  // way from the fault to standstill
  bool finished = true;                 // false: too many events, not to be trusted
  std::vector<TracePoint> trace;
};
FaultOutcome run_fault(const OrdinaryMove& ordinary, const Scenario& scenario);

// Scenarios that differ in nothing but what follows once the reaction begins: the reaction, and `late_a` where the
// fault itself has no two ways. What is alike is run once: all of it up to the reaction, and a stop whose power is
// held up to where the controlled stop lets go. Outcomes in the order given, each run_fault's own to the last bit.
std::vector<FaultOutcome> run_alike(const OrdinaryMove& ordinary, const std::vector<Scenario>& scenarios);

}  // namespace evenbeam::protection
