#pragma once
// The closed loop of simulation_bench written by hand for one plant shape: twelve states, everything in one function,
// no hooks, no choices. What a person would write who needs only this run. Same matrices, same equations.
#include <algorithm>
#include <cmath>
#include <cstring>

#include "servo/loop_law.h"
#include "simulation/gantry.h"
#include "simulation/reference_track.h"

namespace evenbeam::bench {

double hand_run(const simulation::GantryModel& model, const servo::LoopLaw& law,
                const simulation::ReferenceTrack& track);

}  // namespace evenbeam::bench
