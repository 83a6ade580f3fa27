#pragma once
// The causes in the order they are told: one of each kind, the capture that shows it most; what other stations and
// the outputs themselves say first, then by the fight it makes; causes that are not known by name last.
#include <string>
#include <vector>

#include "diagnosis/cause.h"

namespace evenbeam::diagnosis {

std::string kind_of(const base::Finding& finding);    // the id without the recording's name
bool is_unknown_cause(const base::Finding& finding);  // law_not_followed, fight_unexplained

struct Ranked {
  Cause cause;
  int captures = 1;  // that show the same kind
};
std::vector<Ranked> ranked(const std::vector<Cause>& told, const std::vector<Cause>& found);

}  // namespace evenbeam::diagnosis
