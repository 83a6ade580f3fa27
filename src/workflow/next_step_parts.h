#pragma once
// What the next step of a whole evaluation and that of one under way are made of. Private to next_step*.cpp,
// next_capture.cpp.
#include <vector>

#include "workflow/next_step.h"

namespace evenbeam::workflow {

// To settle the station's stop or attention.
NextStep answer_for(NextStep::Kind kind, const Evaluation& evaluation, const base::StationResult& station,
                    const std::vector<Station>& line);
// Before anything moves.
std::vector<std::string> cautions_before_motion(const Evaluation& evaluation);
// To make the station's capture.
NextStep capture_for(const Station& station, const Evaluation& evaluation, const base::StationResult& result);

// When a station is asked for. A machine that has moved is not sent back to an empty check sheet before what it was
// asked for; squareness does not hold up a machine that is recorded to home free.
enum class Turn { own, after_the_others, after_all_attention };

Turn turn_of(const Station& station, const Evaluation& evaluation);

// Whether its own capture would settle it: not where a fault of the program keeps it unknown.
bool is_open(const Station& station, const Evaluation& evaluation);
// What a capture waits for is answered first; a need that this version cannot answer is left to the cautions.
bool needs_are_answered(const Station& station, const Evaluation& evaluation, const std::vector<Station>& line);
// Captures that nobody can read are made in vain: before the next one is asked for, those at hand are read. A table
// that lacks units alone is one of them; of other files up to half may belong to something else.
bool captures_wait_to_be_read(const Evaluation& evaluation);

}  // namespace evenbeam::workflow
