#pragma once
// Reference marks from search recordings in which both sides were held together.
// At a mark raw_A = latch_A, raw_B = latch_B. With a = raw_A - latch_A, b = raw_B - latch_B and the guides free of
// moment at raw skew s_free of that switch-on:
//   b - a (free) = (latch_A - latch_B) - s_free
// s_free from fight against skew, each side's friction taken out (the motion fit holds one s_free a switch-on). A
// bare difference of latches mixes in how far the bridge was racked when it was switched on.
#include <optional>
#include <string>
#include <vector>

#include "identification/identify.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::homing {

struct SearchRun {
  std::string name;
  bool both_seen = false;
  double latch_a_m = 0, latch_b_m = 0;
  double seen_a_s = 0, seen_b_s = 0;  // when latched, the file's own time
  double from_s = 0, to_s = 0;
  double speed_m_per_s = 0;                     // at the later latch, signed
  double beyond_first_m = 0;                    // travel of the reference from the first latch to the second
  std::optional<math::Estimate> stress_free_m;  // raw skew at which the guides are free
  std::optional<math::Estimate> b_minus_a_m;    // at the stress-free attitude
  double largest_skew_off_free_m = 0;           // largest |s - s_free| on the way, 0 where s_free is unknown
  double largest_fight_n = 0;
};

struct Marks {
  std::vector<SearchRun> runs;
  bool known = false;
  std::string reason = "no recording of a search with latched marks";
  math::Estimate b_minus_a_free_m;
  double spread_m = 0;                       // sd of the single runs
  double naive_low_m = 0, naive_high_m = 0;  // bare latch differences, least and largest
  std::vector<std::string> outliers;         // runs that disagree with the rest
};

Marks find_marks(const std::vector<recording::Recording>& recordings, const identification::MotionFit& motion);

}  // namespace evenbeam::homing
