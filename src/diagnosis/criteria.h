#pragma once
// The criteria of station `causes`: each empty where it is not met or cannot be asked. Table with sources:
// docs/causes.md.
#include <vector>

#include "diagnosis/cause.h"
#include "diagnosis/fight_budget.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

// `speed_m_per_s`: the fastest even speed of the captures; 0: none.
std::vector<Cause> unequal_sides(const identification::MotionFit& fit, double speed_m_per_s);
std::vector<Cause> standing_fight(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit);
// The rest in motion, where it is none of the known parts and over half the mean friction: an unnamed cause.
std::vector<Cause> unexplained(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit);
std::vector<Cause> saturation(const recording::Recording& recording, const machine::Machine& machine);
std::vector<Cause> unequal_sampling(const recording::Recording& recording, const identification::MotionFit& fit);

// The budget with the largest force difference; null: none.
const FightBudget* heaviest(const std::vector<FightBudget>& budgets);

}  // namespace evenbeam::diagnosis
