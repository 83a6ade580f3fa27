#pragma once
// One search played through for a picture: from one start, with the numbers of the plan. On the virtual gantry
// where a plant and the loops of the search are known (both ends true places), whether both follow one command, each
// its own, or each runs against its stop; else both sides follow exactly (against stops: as far as the force takes
// them). Not the proof: that is search_case.h, and checks/homing plays its own million.
#include <optional>
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "homing/search_plan.h"
#include "machine/settings.h"

namespace evenbeam::homing {

struct VirtualMachine {
  dynamics::Plant plant;
  machine::Settings loops;
};

struct Replay {
  bool on_virtual_gantry = false;
  bool momentum_helped = false;  // stops: the virtual gantry got there though the force alone does not
  std::vector<double> time_s;
  std::vector<double> a_from_mark_m, b_from_mark_m;  // along the search: below zero before its own mark
  std::vector<double> skew_m;                        // off the stress-free attitude
  std::optional<double> a_seen_s, b_seen_s;
  double a_seen_at_m = 0, b_seen_at_m = 0;  // from its own mark, along the search
  int a_mark = 0, b_mark = 0;               // 0 the mark wanted, else whole pitches off, along the search
  std::string outcome;                      // in words
};

Replay replay_search(const SearchProblem& problem, const SearchPlan& plan, const FailingStart& start,
                     const std::optional<VirtualMachine>& machine);

}  // namespace evenbeam::homing
