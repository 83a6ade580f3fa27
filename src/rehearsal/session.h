#pragma once
// A session with the pair: its state after every command, and whether the command was right. The state of the pair
// follows from five facts; drive and axis states are shown after the open standards beside them.
//   fault > off > loops open > referenced (tied and referenced) > tied > closed apart
// A refused command changes nothing; a command to the wrong side is refused as well.
#include <optional>
#include <string>
#include <vector>

#include "rehearsal/axis_state.h"
#include "rehearsal/defects.h"
#include "rehearsal/drive_state.h"
#include "rehearsal/rules.h"

namespace evenbeam::rehearsal {

enum class Sides { a, b, both };
std::string to_text(Sides sides);  // "A", "B", "both"

struct Pair {
  bool powered = false, closed = false, tied = false, referenced = false, fault = false;
  DriveState drive_a = DriveState::switch_on_disabled, drive_b = DriveState::switch_on_disabled;
  AxisState axis = AxisState::disabled;
};
PairState state_of(const Pair& pair);

struct Step {
  Operation operation = Operation::enable;
  Sides sides = Sides::both;
  long line = 0;                     // in the script; 0 = none
  std::optional<int> homing_method;  // of a search: the drive standard's number (homing_method.h)
};

struct Judged {
  Step step;
  PairState before = PairState::off, after = PairState::off;
  Rule rule;
  bool right = false;
  std::string text;  // what is wrong and what to do instead; the reason of the rule where right
  DriveState drive_a = DriveState::switch_on_disabled, drive_b = DriveState::switch_on_disabled;  // afterwards
  AxisState axis = AxisState::disabled;
};
// Judges one step and moves the pair on where it is right.
Judged judge(const RuleTable& table, Pair& pair, const Step& step);

// A session as a person writes it (format evenbeam.session/1, docs/formats.md).
struct Script {
  std::string name;
  std::vector<Step> steps;
  std::vector<Defects> broken;  // the machine it is played on
};
Script read_script(const std::string& text, const std::string& file_name);
std::vector<Judged> replay(const RuleTable& table, const Script& script);

// The shortest way by right commands, from `pair` to `operation` given in one of the states `in` (the operation is
// the last step). Empty where the table allows none. Faults are not a way.
std::vector<Judged> way_to(const RuleTable& table, const Pair& pair, Operation operation,
                           const std::vector<PairState>& in);

}  // namespace evenbeam::rehearsal
