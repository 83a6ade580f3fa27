#pragma once
// What the guide carriages of both rails take of a yaw moment about z, and what a skew costs them in life.
//
// A bridge bolted to its carriages can turn only by pressing the carriages of each rail sideways against the rail:
// those ahead of the middle one way, those behind it the other. The end is taken as rigid, so carriage i at x_i from
// the middle of its rail carries F_i = F x_i/(e/2), F the lateral force of the outermost and e the spacing of the
// outer two. One rail then carries the moment sum F_i x_i = F (2/e) sum x_i^2 = F * arm, and both together 2 F * arm:
//   two carriages: arm = e, M = 2 F e;   four, evenly spaced: arm = 10/9 e.
// The equivalent static load is P0 = F_z + F_y and the wanted safety f_s = C0/P0 [ISO 14728-2, from memory], hence
//   F_allow = C0/f_s - F_z,   M_allow = 2 F_allow * arm.
// Assumed: both rails alike and each carrying half of the moment; carriages evenly spaced; F_z the worst carriage's
// share of the weight with the carriage on the bridge at the end of its travel and level rails.
// Left out: the carriages' own yaw moment rating (it would allow more), preload and lateral process forces (less).
// Nominal life [ISO 14728-1, from memory]: L = 100 km (C/P)^p, p = 3 for balls, 10/3 for rollers.
#include <optional>
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::limits {

inline constexpr double ball_life_exponent = 3.0;
inline constexpr double roller_life_exponent = 10.0 / 3.0;
// Wanted static safety where none is stated: a racking fault is a shock, for which trade guidance gives 3 to 5
// (from memory). A smaller number allows more moment.
inline constexpr double assumed_static_safety = 4.0;

// arm of the outermost lateral force on one rail, m; 0 for a single carriage, which makes no couple.
double lateral_arm_m(int carriages, double spacing_m);

// Weight on the worst carriage. `missing` names the masses not known (counted as nothing).
struct StandingLoad {
  double per_carriage_n = 0;
  double lighter_side_n = 0;  // the least weight that one whole side carries, empty carriage at the other end
  std::vector<std::string> missing;
};
StandingLoad standing_load(const machine::Machine& machine, int carriages_a_side);

struct GuideMoment {
  double moment_n_m = 0;        // allowable |M| about z, both rails together
  double lateral_force_n = 0;   // of the outermost carriage at that moment
  double standing_force_n = 0;  // F_z
  double arm_m = 0;
  double static_safety = 0;  // f_s used
  bool static_safety_assumed = false;
  std::vector<std::string> missing_masses;
};
// nullopt where carriages, spacing or C0 are unknown, or one carriage a side carries no couple; `why_not` says which.
std::optional<GuideMoment> guide_moment(const machine::Machine& machine, std::string& why_not);

double lateral_force_n(double yaw_moment_n_m, double arm_m);  // of the outermost carriage, both rails alike
double nominal_life_km(double dynamic_rating_n, double load_n, double exponent);
// Life with a standing lateral force over life without it: (F_z/(F_z + F_y))^p; the rating cancels.
double life_ratio(double standing_force_n, double lateral_force, double exponent);
// The lateral force at which that ratio is reached: F_y = F_z (ratio^(-1/p) - 1).
double lateral_force_for_life_ratio_n(double standing_force_n, double ratio, double exponent);

}  // namespace evenbeam::limits
