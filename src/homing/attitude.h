#pragma once
// Free or square? Standing off the stress-free attitude by s = p s_sq, p = 0 free .. 1 square, the bridge is
//   out of square by ((1 - p)|s_sq| + doubt + thermal)/L at worst, held there by the standing fight K_th |s|/L^2,
// and its guides live (F_z/(F_z + F_y))^q of their life free, F_y = K_th |s|/L / (2 arm) the outermost carriage's
// lateral force, q = 3 for balls [ISO 14728-1, from memory]. Heat changes the skew by +-thermal, which adds to |s|.
// Recommended: where the process states the squareness it wants, the smallest p that gives it; else square where
// that costs less than a tenth of the guides' life and stays below half of what they take, else free.
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"

namespace evenbeam::homing {

inline constexpr double kLifeKept = 0.9;  // of the guides' life; common practice, no source

struct AttitudeInput {
  double span_m = 0;
  double square_skew_m = 0;                                   // of the square attitude off the stress-free one
  double doubt_m = 0;                                         // half 95 % interval of that
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad;    // real newtons
  bool turns_freely = false;                                  // pivoted ends: no moment, no fight
  std::optional<double> guide_arm_m, guide_standing_force_n;  // of the outermost carriage; of the worst one
  double life_exponent = 3;
  std::optional<double> allowable_skew_m;
  std::optional<double> squareness_wanted_rad;
  double thermal_skew_m = 0;
};

struct AttitudePoint {
  double part = 0;  // p
  double skew_m = 0;
  double out_of_square_rad = 0;                        // worst
  double fight_n = 0, fight_high_n = 0;                // upper: stiffness at its upper end, heat on top
  std::optional<double> life_ratio, life_ratio_worst;  // of the guides, against free
};

struct AttitudeTrade {
  bool known = false;
  std::string missing;
  std::vector<AttitudePoint> curve;
  AttitudePoint recommended;
  std::string reason;
  bool wanted_is_reached = true;
};

AttitudeTrade attitude_trade(const AttitudeInput& input);

}  // namespace evenbeam::homing
