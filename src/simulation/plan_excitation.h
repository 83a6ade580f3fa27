#pragma once
// The largest level of an excitation that keeps force, skew, stroke and speed inside their limits, foreseen on the
// linear plant, open loop or under a loop law. Linear, so everything grows with the level and one run sets it:
//   level = min over limits of limit / response to level 1
// Friction is left out: it takes motion away, so real motion stays below in force-driven parts; it can add to skew
// where one side sticks, which is why `use` (part of each limit that may be used) is not 1.
#include <optional>
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"

namespace evenbeam::simulation {

struct ExcitationLimits {
  std::optional<double> force_a_n, force_b_n;  // commanded newtons, excitation and loops together
  std::optional<double> skew_m;                // departure from the skew at the start
  std::optional<double> stroke_m;              // of either side from its start
  std::optional<double> speed_m_per_s;
  double use = 0.5;
};

struct PlannedExcitation {
  double level = 0;      // factor on the shapes given
  std::string bound_by;  // "force of A", "skew", ... ; "nothing" where no limit is known
  double force_a_n = 0, force_b_n = 0, skew_m = 0, stroke_m = 0, speed_m_per_s = 0;  // foreseen peaks at that level
};

// Shapes: forces added to the outputs of A and B, one value a period. Under `loops` where given, else open loop.
PlannedExcitation plan_excitation(const dynamics::Plant& plant, const std::optional<machine::Settings>& loops,
                                  double period_s, const std::vector<double>& shape_a_n,
                                  const std::vector<double>& shape_b_n, const ExcitationLimits& limits);

}  // namespace evenbeam::simulation
