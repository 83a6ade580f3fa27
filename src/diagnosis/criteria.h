#pragma once
// The criteria of station `causes`: each empty where it is not met or cannot be asked. Table with sources:
// docs/causes.md.
#include <optional>
#include <vector>

#include "diagnosis/cause.h"
#include "diagnosis/fight_budget.h"
#include "diagnosis/force_along_x.h"
#include "identification/identify.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

// `speed_m_per_s`: the fastest even speed of the captures; 0: none.
std::vector<Cause> unequal_sides(const identification::MotionFit& fit, double speed_m_per_s);
std::vector<Cause> standing_fight(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit,
                                  const machine::Machine& machine);
// The rest in motion, where it is none of the known parts and over half the mean friction: an unnamed cause.
std::vector<Cause> unexplained(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit);
std::vector<Cause> saturation(const recording::Recording& recording, const machine::Machine& machine);
// `friction_n` of a side: where the fight goes with the speed by over 30 % of it, the shift is in the loops or a
// drag.
std::vector<Cause> unequal_sampling(const recording::Recording& recording, const identification::MotionFit& fit,
                                    double friction_n);
// What of d goes with the speed, at the top speed of the recording, N.
double fight_with_speed(const recording::Recording& recording);

// A shift of the sampling that the import suspects and has not corrected: a skew that may not be there.
std::vector<Cause> suspected_sampling(const recording::Recording& recording);
std::vector<Cause> commands_apart(const recording::Recording& recording, const identification::MotionFit& fit);
// A reading that steps in one sample by far more than it does anywhere else in the recording: lost counts.
std::vector<Cause> position_jumps(const recording::Recording& recording, const identification::MotionFit& fit);
// Outputs that are exactly zero: both in motion (a trip), one in motion (a stop of one side), one at rest (dead
// band).
std::vector<Cause> sides_off(const recording::Recording& recording);
// What no criterion explains: the unknown cause.
std::vector<Cause> law_not_followed(const identification::Identified& identified);
std::vector<Cause> hunting(const recording::Recording& recording);
// Outputs that the loops stated cannot have given (loops_replayed.h): B follows A, a skew loop of another gain.
std::vector<Cause> loops_not_as_stated(const recording::Recording& recording);
// Through part of the skew no force answers, in motion. `friction_n` of a side here and below.
std::vector<Cause> play(const recording::Recording& recording, double friction_n);
// Force asked beyond some level moves nothing.
std::vector<Cause> clipped_force(const recording::Recording& recording, double friction_n);
// The lateness of one side's reading grows along each recording, in two at least alike. `spring_n_per_m` K/L^2; 0:
// not known.
std::vector<Cause> clocks_drift(const std::vector<recording::Recording>& recordings, double spring_n_per_m,
                                double friction_n);
// Switch-ons find the bridge racked differently by more than friction holds: a question, not ranked.
std::optional<base::Finding> switch_ons_apart(const identification::MotionFit& fit);
// A fight that the loops hold until servo-off, when the skew springs back.
std::vector<Cause> springs_back(const recording::Recording& recording, const identification::MotionFit& fit,
                                double friction_n);
std::vector<Cause> mass_not_as_stated(const identification::MotionFit& fit, const machine::Machine& machine);
// The share's slope along the carriage's way against the papers'.
std::vector<Cause> share_slope_not_as_stated(const identification::MotionFit& fit, const machine::Machine& machine);
// A side holds, or rises to, more at rest than its motor bears for ever.
std::vector<Cause> overload_at_rest(const recording::Recording& recording, const machine::Machine& machine,
                                    double friction_n);
std::vector<Cause> along_x(const ForceAlongX& map, const identification::MotionFit& fit);
std::vector<Cause> unequal_drives(const identification::GreyFit& fit);

// What other stations have found that is a cause by itself: crossed or reversed sides, marks that slip or drift.
std::vector<Cause> told_by_stations(const std::vector<base::StationResult>& done);

// The budget with the largest force difference; null: none.
const FightBudget* heaviest(const std::vector<FightBudget>& budgets);

}  // namespace evenbeam::diagnosis
