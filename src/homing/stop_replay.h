#pragma once
// A search against stops played through, cycle by cycle: the reference of each side runs at the search speed until
// the side stands for 20 ms with its force at the limit, and stays where it stands then. Who stands short of the stop
// takes that for it. On the virtual gantry, whose stops give as the problem says and whose friction and guides are
// the upper ends that the promise covers; or without inertia, each side as far as force against friction and guides
// takes it.
#include <optional>
#include <vector>

#include "homing/search_plan.h"
#include "homing/search_replay.h"

namespace evenbeam::homing {

struct StopRun {
  double period_s = 1e-3;
  std::vector<double> a_m, b_m;  // places along the search, one a period
  struct Found {
    double at_s = 0, at_m = 0;  // along the search
  };
  std::optional<Found> a, b;
};

StopRun run_to_stops(const SearchProblem& problem, const SearchPlan& plan, const FailingStart& start,
                     const VirtualMachine& machine);
StopRun run_to_stops_without_inertia(const SearchProblem& problem, const SearchPlan& plan, const FailingStart& start);

}  // namespace evenbeam::homing
