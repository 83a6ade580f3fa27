#pragma once
// One criterion met, and what the criteria share. Table of criteria: docs/causes.md.
#include <string>

#include "base/finding.h"
#include "diagnosis/fight_budget.h"
#include "identification/motion_fit.h"
#include "math/estimate.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

// `fight_n`: how much of the force difference it makes, the order in which causes are named.
struct Cause {
  base::Finding finding;
  double fight_n = 0;
};

struct Said {
  std::string text, next;
};

// A criterion met: its size against its limit; thresholds are proposals, no standard (docs/causes.md).
Cause cause(std::string id, const math::Estimate& size, std::string unit, double limit, Said said, double fight_n);

// The span that shows it.
Cause seen_in(Cause cause, const FightBudget& budget);
Cause seen_in(Cause cause, const recording::Recording& recording, double from_s, double to_s);

double coulomb_mean(const identification::MotionFit& fit);
bool beside_zero(const math::Estimate& e);

}  // namespace evenbeam::diagnosis
