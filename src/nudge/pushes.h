#pragma once
// Open-loop pushes found in a recording, and what each did to both sides.
//   displacement(t) = x(t) - x0,  x0 = mean of the 5 ms before the push (its first sample where the file begins with
//   it)
// A push is a stretch of constant output on one side or both, with both outputs at zero before and after. A side has
// moved where its largest displacement until the end of the push exceeds what noise and counts can show:
// max(4 counts, 6 standard deviations of the position at rest).
#include <optional>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::nudge {

enum class PushSide { a, b, both };

struct SideMove {
  double mean_m = 0;       // mean displacement during the push
  double peak_m = 0;       // signed, largest in size during the push
  double after_m = 0;      // at the end of the rest that follows; NaN where the rest is under 50 ms
  double threshold_m = 0;  // what counts as having moved
  bool moved = false;
};

struct Push {
  const recording::Recording* recording = nullptr;
  PushSide side = PushSide::a;
  double force_a_n = 0, force_b_n = 0;  // commanded
  double from_s = 0, to_s = 0;          // in the recording's own time
  double rest_to_s = 0;                 // end of the rest that follows
  SideMove a, b;
};

// Rising in time. Empty where positions or outputs are missing. Refers to `recording`.
std::vector<Push> find_pushes(const recording::Recording& recording);

// Of a push of one side: that side's own and the other's movement and the own commanded force.
const SideMove& own(const Push& push);
const SideMove& other(const Push& push);
double own_force_n(const Push& push);

}  // namespace evenbeam::nudge
