#pragma once
// The causes in the order of the rules, from which odds.h weighs them: one of each kind, the capture that shows it
// most; what other stations and the outputs themselves say first, then by the fight it makes; causes that are not
// known by name last.
#include <string>
#include <vector>

#include "diagnosis/cause.h"

namespace evenbeam::diagnosis {

std::string kind_of(const base::Finding& finding);    // the id without the recording's name
bool is_unknown_cause(const base::Finding& finding);  // law_not_followed, fight_unexplained

// 0: an event, 1: told by another station, 2: found here, 3: not known by name.
int turn_of(const base::Finding& finding);

struct Ranked {
  Cause cause;
  int captures = 1;  // that show the same kind
};
std::vector<Ranked> ranked(const std::vector<Cause>& told, const std::vector<Cause>& found);

}  // namespace evenbeam::diagnosis
