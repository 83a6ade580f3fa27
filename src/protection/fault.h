#pragma once
// What may go wrong with a bridge in motion, and what may be done about it, as data and as words.
// Reactions by the stop categories of IEC 60204-1, 9.2 (from memory): 0 power removed at once, uncontrolled;
// 1 controlled stop with power kept until standstill, then removed; 2 controlled stop, power kept. A drive that has
// failed is cut in all of them. Stop category 0 of one side only is the dangerous case; it isn't a reaction here.
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::protection {

enum class FaultKind {
  side_off,          // output gone, its drive reports it
  side_off_unseen,   // output gone, nothing reported: seen by the thresholds only, and these sense late
  output_held,       // keeps the force it had
  output_full_with,  // full force with the motion
  output_full_against,
  feedback_frozen,
  feedback_reversed,
  feedback_slip,    // jumps by just what no trip sees, ahead or behind
  brake_drags,      // one brake closes by itself
  jam,              // one end is held by something
  carriage_thrown,  // the carriage runs to one end of its travel and hits it
  command_step,     // the commanded place of both sides jumps
  power_loss,       // both outputs gone; brakes close, one by the ordinary spread later
  brake_late,       // the same, one brake much too late
  brake_fails,      // the same, one brake never
};
enum class Reaction {
  off,              // both off, coasting: category 0
  off_brakes,       // both off, brakes close, one late: category 0
  controlled_stop,  // the loops still able to, down a ramp, then off: category 1
  follow,           // the healthy side follows the failed one, then off: category 1
  dynamic_braking,  // both off, windings of the healthy drives shorted: category 0
  hold,             // as controlled stop, power kept: category 2
};
enum class FaultySide { a, b };
enum class SeenBy { nothing, drive, skew_trip, following_trip };

std::string to_text(FaultKind kind);     // "side off", ...
std::string to_text(Reaction reaction);  // "both off at once (category 0)", ...
std::string to_text(SeenBy by);
std::string key_of(Reaction reaction);  // "off", "off_brakes", ...
int stop_category(Reaction reaction);   // 0, 1, 2
const std::vector<FaultKind>& all_faults();
const std::vector<Reaction>& all_reactions();
bool drive_tells(FaultKind kind);    // its drive reports it: no threshold has to be met first
bool power_is_gone(FaultKind kind);  // no reaction can do more than brakes and windings do by themselves
bool needs_brakes(FaultKind kind);   // only where the machine has brakes
bool one_drive_failed(FaultKind kind);

// Sizes of faults and reactions that no paper gave are assumed and named as such.
struct FaultSizes {
  double jam_n = 0;  // what holds a jammed end
  double brake_a_n = 0, brake_b_n = 0;
  double brake_close_a_s = 0, brake_close_b_s = 0;
  double brake_late_s = 0.02;   // of one brake, either: ordinary spread (field figure, assumed)
  double brake_fault_s = 0.2;   // of a brake that is late as a fault
  double sensed_late_s = 0.01;  // of `side_off_unseen`, on top of the latency
  double carriage_m_per_s2 = 0, carriage_m_per_s = 0, carriage_buffer_m = 0.01;
  double carriage_min_y_m = 0, carriage_max_y_m = 0;
  double step_m = 1e-3;          // command step
  double shorted_n_s_per_m = 0;  // dynamic braking of one drive
  double stop_m_per_s2 = 5;      // ramp of a controlled stop
  bool brakes_known = false;
  std::vector<std::string> assumed;  // as sentences
};
// `speed` and `acceleration` are the largest of the person's own moves.
FaultSizes fault_sizes(const machine::Machine& machine, double speed_m_per_s, double acceleration_m_per_s2);
// The faults this machine can have.
std::vector<FaultKind> possible_faults(const FaultSizes& sizes);

}  // namespace evenbeam::protection
