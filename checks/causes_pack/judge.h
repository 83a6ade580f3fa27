#pragma once
// Holds what was filed of each machine (cases.h) against its truth, with the odds of today's table.
// Right: a finding that the bank names for the defect belongs to that cause. One defect is one cause: where the
// bank's names belong to several, the first of them that is met is the one that is so (odds), and any of them counts
// as named (place). Place: of the cause, in the order of the odds. A cause that
// these captures cannot tell from something harmless is right first where the capture that tells is asked for and
// nothing else is named. A healthy machine with any finding is a false
// alarm. A defect without any trace in the captures (trace.h) cannot be named by anyone: silence, or an answer that
// asks for a capture or says none of these, is right there.
#include <map>
#include <string>

#include "cases.h"
#include "odds_train.h"

namespace evenbeam::checks {

Seen seen_of(const Filed& filed);

// One line: the truth, then the causes in the order of their odds.
std::string told_of(const Filed& filed);

// Markdown tables: by defect, confusion, healthy, pairs, calibration.
std::string judged(const std::map<std::uint64_t, Filed>& filed);

}  // namespace evenbeam::checks
