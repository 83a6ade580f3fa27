#pragma once
// Station `causes`: why do the sides fight? The fight of every closed-loop capture is split into parts
// (fight_budget.h) and the differences between the sides that the fits have found are held against criteria
// (docs/causes.md), largest share of the fight first. It states sizes and intervals, no probabilities: odds would
// have to be calibrated on machines with known defects, which has not been done. Most of the known difficulties have
// no criterion here yet, so silence is no proof of health. Keys: docs/formats.md.
#include <vector>

#include "base/figure.h"
#include "diagnosis/fight_budget.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

// One criterion met. `fight_n`: how much of the force difference it makes, the order in which causes are named.
struct Cause {
  base::Finding finding;
  double fight_n = 0;
};

// Table rows of docs/causes.md; each empty where the criterion is not met or cannot be asked.
// `speed_m_per_s`: the fastest even speed of the captures; 0: none.
std::vector<Cause> unequal_sides(const identification::MotionFit& fit, double speed_m_per_s);
std::vector<Cause> standing_fight(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit);
// The rest in motion, where it is none of the known parts and over half the mean friction: an unnamed cause.
std::vector<Cause> unexplained(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit);
std::vector<Cause> saturation(const recording::Recording& recording, const machine::Machine& machine);
std::vector<Cause> unequal_sampling(const recording::Recording& recording, const identification::MotionFit& fit);

base::StationOutcome causes_station(const std::vector<recording::Recording>& recordings,
                                    const machine::Machine& machine, const identification::MotionFit& fit);

}  // namespace evenbeam::diagnosis
