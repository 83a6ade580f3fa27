#pragma once
// What a defect leaves in the captures, from the generator's truth alone: the same machine, seed and captures once
// with and once without it. No rule of the stations is asked.
//   no trace   readings, references, latches and outputs are the same to a count or 5 % of the friction: no method
//              could name the defect from these captures
//   matters    it moves the true skew by over a tenth of the skew that the builder allows, makes over 30 % of the
//              Coulomb friction of fight (root mean square), changes the driving force by over 10 %, or moves or
//              loses a latched mark by over 0.1 mm
// The limits are proposals of practice, no source; less matters neither for skew nor for safety.
#include <vector>

#include "rehearsal/captures.h"

namespace evenbeam::checks {

struct Trace {
  double reading_counts = 0;  // largest root mean square of a capture, of either side
  double fight = 0;           // the same of d, parts of the mean Coulomb friction (commanded newtons)
  double drive = 0;           // of F_A + F_B, parts of its own root mean square without the defect
  double skew_m = 0;          // largest difference of the true skew
  double latch_m = 0;         // largest difference of a latched mark; 1 where one is missing
  double command_m = 0;       // largest difference of the skew commanded
};

struct Measure {
  double count_m = 0, coulomb_n = 0, allowed_skew_m = 0;
};

Trace trace_of(const std::vector<rehearsal::SimulatedCapture>& broken,
               const std::vector<rehearsal::SimulatedCapture>& healthy, const Measure& measure);
bool no_trace(const Trace& trace, const Measure& measure);
bool matters(const Trace& trace, const Measure& measure);

}  // namespace evenbeam::checks
