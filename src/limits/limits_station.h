#pragma once
// Station `limits`: how much skew and yaw moment the guides and mountings take, and a safe level and time for a first
// open-loop push. From the machine's papers alone, tightened by what `fit` found. Method: guide_moment.h,
// allowable.h, safe_push.h. Keys: docs/formats.md, "values of limits".
#include "base/figure.h"
#include "limits/allowable.h"
#include "limits/safe_push.h"
#include "machine/machine.h"

namespace evenbeam::limits {

// The chosen push and what it was held against.
struct SafePush {
  bool found = false;
  double force_n = 0;           // commanded newtons a side
  std::optional<double> level;  // 0..1 of the weaker side's peak
  double time_s = 0;
  double wanted_force_n = 0;  // what a push must reach to be of use
  std::string wanted_why;
  double scale_high = 1;  // real over commanded force, upper end
  PushCase push;
  PushLimits limits;
  std::string skew_limit_source;
  PushBounds bounds;                // at force and time
  std::string binding;              // limit that would be met first
  std::string why_not, settled_by;  // where not found
};
SafePush safe_push(const machine::Machine& machine, const LimitsInput& input, const Allowable& allowed);

base::StationOutcome limits_station(const machine::Machine& machine, const LimitsInput& input);

}  // namespace evenbeam::limits
