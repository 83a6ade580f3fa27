#pragma once
// A session with the virtual pair, for the page: the commands given so far, judged one after the other by the job's
// table of rules; what each command would be in the state reached; and, for a wrong one, what it would do to this
// machine, computed on the virtual gantry (rehearsal/consequence.h).
#include <optional>
#include <string>
#include <vector>

#include "rehearsal/consequence.h"
#include "rehearsal/session.h"
#include "workflow/evaluation.h"

namespace evenbeam::workflow {

struct GivenCommand {
  std::string operation, sides;  // "take out skew"; "A", "B" or "both"
};

struct CommandSeen {
  rehearsal::Judged judged;
  // Of a wrong one that moves something: the run, and whether it may go beyond what guides and mountings take.
  std::optional<rehearsal::Consequence> consequence;
  std::optional<bool> beyond;
};
struct PossibleCommand {
  rehearsal::Operation operation = rehearsal::Operation::enable;
  rehearsal::Rule rule;
};
struct SessionSeen {
  bool fitted = false;
  std::vector<std::string> assumed;  // sentences, where papers and captures are silent
  bool commanding_side_is_a = true;
  std::vector<CommandSeen> commands;
  rehearsal::Pair pair;  // after the last
  std::vector<PossibleCommand> possible;
};
// InputError where a word is unknown, or the machine's topology is not in the virtual gantry.
SessionSeen try_operations(const Evaluation& evaluation, const std::vector<GivenCommand>& given);

}  // namespace evenbeam::workflow
