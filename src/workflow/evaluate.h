#pragma once
// Runs the line of work over a job: every station that is built, each after those whose results it uses. A stop never
// keeps a later station from looking at captures that exist; a fault of the program ends the station that met it,
// and the others go on.
#include <functional>
#include <string>
#include <vector>

#include "workflow/evaluation.h"
#include "workflow/job.h"
#include "workflow/kept.h"
#include "workflow/stations.h"

namespace evenbeam::workflow {

// An evaluation under way: what is known so far, its `pending` stations missing.
using SoFar = std::function<void(Evaluation)>;

// With `kept` from the last time only what changed is done again; the result is the same to the byte. `so_far` is
// told after the import and after each station that had to work.
Evaluation evaluate(Job job, const std::vector<Station>& line, const Progress& progress, Kept* kept = nullptr,
                    const SoFar& so_far = {});

// The bench as the stations of `line` leave it, without their outcomes: for those who need what was found, not what
// was said. base::Bug where a fault of the program ended one of them: what is missing would be taken for unknown.
Bench bench_after(Job job, const std::vector<Station>& line, const Progress& progress);

// What the import noticed, as the station "recordings": one finding for each capture (kind and why) and each trouble.
base::StationOutcome recordings_station(const Job& job);

}  // namespace evenbeam::workflow
