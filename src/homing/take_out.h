#pragma once
// Taking out the skew once both marks are known: the reference of x_A - x_B goes at constant rate from where the
// bridge stands to the attitude wanted, the mean held. Off the stress-free attitude by s,
//   guide moment M = K_th s / L,   fight d = K_th s / L^2 +- (r_A + r_B)/2
// (the sides move opposite ways, so that their frictions add; + while the skew grows). K_th, r at the ends of their
// intervals give the bounds. Rate: a trip that acts within kReaction_s must come before another kNotMore of what the
// mountings take is used up, and neither side runs faster than half the search.
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"

namespace evenbeam::homing {

inline constexpr double kReaction_s = 0.1, kNotMore = 0.05;  // common practice, no source

struct TakeOutInput {
  double span_m = 0;
  double from_skew_m = 0, to_skew_m = 0;  // off the stress-free attitude; from: the largest the searches start with
  double doubt_m = 0;                     // half interval of the attitude; less skew than that is not worth a move
  double search_speed_m_per_s = 0.02;
  bool turns_freely = false;                                // pivoted ends: no moment reaches the guides
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad;  // real newtons
  std::optional<double> friction_n;                         // r_A + r_B, upper end
  std::optional<double> allowable_skew_m, allowable_moment_n_m;
  std::optional<double> force_limit_n;  // of one side, lasting
};

struct SkewStep {
  double skew_m = 0;                       // off the stress-free attitude
  double moment_low = 0, moment_high = 0;  // N*m, sizes
  double fight_high_n = 0;                 // size, friction included
};

enum class Advice { not_known, nothing, one_go, in_steps, release_end, refuse };

struct TakeOut {
  Advice advice = Advice::not_known;
  std::string reason;         // of the advice
  std::vector<SkewStep> way;  // eleven places; empty where the stiffness is unknown
  double rate_m_per_s = 0;    // of x_A - x_B
  double time_s = 0;
  int steps = 0;                  // equal; 1 in one go
  double largest_moment_n_m = 0;  // upper end
  double largest_fight_n = 0;
  double reach_m = 0;  // refuse: the attitude nearest to the one wanted that the limits allow
};

// Largest skew off the stress-free attitude that the limits of skew and of guide moment both allow, the stiffness at
// its upper end; nullopt where neither says. No moment limit where the ends turn freely.
std::optional<double> allowed_skew_m(std::optional<double> allowable_skew_m,
                                     std::optional<double> allowable_moment_n_m,
                                     const std::optional<base::Estimate>& yaw_stiffness_n_m_per_rad, double span_m);
TakeOut take_out(const TakeOutInput& input);
std::string to_text(Advice advice);

}  // namespace evenbeam::homing
