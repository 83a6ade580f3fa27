#pragma once
// Station `marks`: where the reference marks are against each other, the search that cannot miss both, what was wrong
// with recorded searches, how the skew is taken out afterwards, which attitude to home to, and the electrical angle
// at the mark. Keys: docs/formats.md, "values of marks".
#include "base/estimate.h"
#include "base/figure.h"
#include "homing/marks.h"
#include "homing/search_recipe.h"
#include "homing/search_replay.h"

namespace evenbeam::homing {

// What other stations know; absent where they have not run.
struct MarksInput {
  std::optional<double> allowable_skew_m, allowable_moment_n_m;  // by limits
  std::optional<math::Estimate> square_m;                        // b - a where the bridge is measured square
  std::optional<double> squareness_wanted_rad, thermal_skew_m;   // by squareness.toml; thermal: its largest size
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad;       // by fit, real newtons
  std::optional<base::Estimate> coulomb_a_n, coulomb_b_n;        // by fit, real newtons
  std::optional<base::Estimate> viscous_a_n_s_per_m, viscous_b_n_s_per_m;
  std::optional<base::Estimate> moving_mass_kg;                // all that moves
  std::optional<base::Estimate> force_scale_a, force_scale_b;  // real over nameplate
  std::optional<double> guide_arm_m, guide_standing_force_n;   // of the outermost carriage (limits/guide_moment.h)
  std::optional<VirtualMachine> virtual_machine;               // plays the pictures
};

struct MarksOutcome {
  base::StationOutcome outcome;
  SearchRecipe recipe;
};

MarksOutcome marks_station(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                           const identification::MotionFit& motion, const MarksInput& input);

}  // namespace evenbeam::homing
