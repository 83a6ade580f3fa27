#pragma once
// One drive alone, before the bridge is connected (or taken off it): inverse dynamics from captures of kind one_side.
//   F = m x'' + lag x''' + Coulomb * direction + viscous * x' + offset
// F commanded newtons, x the side's own position, all through one zero-phase window (local_motion.h), points where
// the drive slides well away from reversals. Linear regression with cluster covariance (robust_regression.h). What is
// then known: mass, friction and lag in nameplate newtons; the force scale where the papers state the mass:
//   force_scale = stated mass on the drive / fitted mass  (real over nameplate).
// Assumed: one rigid mass on the drive (motor, transmission, what hangs on it), no bridge; stiff enough that nothing
// rings below the window's bandwidth. An offset holds tilt and a bias of the output; they are not told apart.
#include <optional>
#include <string>
#include <vector>

#include "machine/machine.h"
#include "math/estimate.h"
#include "recording/recording.h"

namespace evenbeam::identification {

enum class DriveSide { a, b };

struct OneDrive {
  bool done = false;
  std::string reason = "no capture of this side alone with its position and its output";
  DriveSide side = DriveSide::a;
  std::vector<std::string> recordings;  // used, in their order
  double from_s = 0, to_s = 0;          // span used of the first of them
  int rows = 0;
  double bandwidth_hz = 0;
  // Nameplate newtons. nullopt: these captures do not tell it.
  std::optional<math::Estimate> mass_kg, coulomb_n, viscous_n_s_per_m, offset_n, lag_s;
  std::optional<double> breakaway_n;          // largest |output| while still before it first moves; nullopt: not seen
  std::optional<double> papers_mass_kg;       // mass stated for the drive alone
  std::optional<math::Estimate> force_scale;  // real over nameplate; the papers' mass is trusted to 5 %
  std::vector<std::string> untold;            // what is missing, each with the run that would tell it
};

// All captures of kind one_side in which that side moved.
OneDrive one_drive(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                   DriveSide side);

// Force of B over A for equal command, from both drives alone; free of the papers' common error where both carry
// equal stated masses. nullopt where one of them has no force scale.
std::optional<math::Estimate> gain_ratio_alone(const OneDrive& a, const OneDrive& b);

}  // namespace evenbeam::identification
