#pragma once
// Figures of the recorded searches and of the planned one.
#include "base/figure.h"
#include "homing/marks.h"
#include "homing/search_replay.h"

namespace evenbeam::homing {

base::Figure mark_map(const Marks& marks);
base::Figure fight_figure(const std::vector<recording::Recording>& recordings, const Marks& marks);
// `fails`: a start that does not succeed, beside one that does.
base::Figure replay_figure(const SearchProblem& problem, const Replay& replay, const FailingStart& start, bool fails);

}  // namespace evenbeam::homing
