#pragma once
// Findings and figure of station `nudge` besides signs and wiring.
#include <string>
#include <vector>

#include "nudge/nudge_station.h"

namespace evenbeam::nudge {

base::Finding strength_finding(const NudgeInput& input);
base::Finding friction_finding(const NudgeInput& input);
base::Finding breakaway_finding(const std::string& side, const Breakaway& found, const std::vector<Push>& pushes);
// What the bridge does after a push of one side: how much of the skew it takes back, and what friction holds.
base::Finding spring_back_finding(const std::vector<Push>& pushes);
base::Finding no_pushes_finding(const std::vector<recording::Recording>& recordings);
// Positions of both sides over one recording, pushes as bands.
base::Figure push_figure(const recording::Recording& recording, const std::vector<Push>& pushes);
std::string in_words(const Push& push);  // "A +130 N", "both -90 N"

}  // namespace evenbeam::nudge
