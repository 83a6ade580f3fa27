#pragma once
// Reference marks from search recordings in which both sides were held together.
// At a mark raw_A = latch_A, raw_B = latch_B. With a = raw_A - latch_A, b = raw_B - latch_B and the guides free of
// moment at raw skew s_free of that switch-on:
//   b - a (free) = (latch_A - latch_B) - s_free
// s_free from fight against skew, each side's friction taken out (the motion fit holds one s_free a switch-on). A
// bare difference of latches mixes in how far the bridge was racked when it was switched on.
// Interval: scatter between the runs (Student, n - 1) with what they share: the fit's uncertainty of s_free, and the
// part of the friction that no law holds, which moves every s_free alike (kFrictionForm).
// Without outputs s_free is not known; where an allowable skew is, each run bounds b - a by it, and all together
// more.
#include <optional>
#include <string>
#include <vector>

#include "homing/search_problem.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::homing {

enum class OddKind { slipped_pitch, wrong_edge, late_latch, unexplained, drifting, near_switch_edge, direction };
enum class WhichSide { unknown, a, b };

struct Oddity {  // of one run; of all of them where `run` is empty
  std::string run;
  OddKind kind = OddKind::unexplained;
  WhichSide side = WhichSide::unknown;
  double size_m = 0;   // along the search: how much later that side's latch came (slip, edge, late); drift: a run
  double size_s = 0;   // late_latch, direction: the delay
  double doubt_m = 0;  // of size_m where only bare differences are known: the power-up skews may make so much of it
  int pitches = 0;     // slipped_pitch
};

struct SearchRun {
  std::string name;
  bool both_seen = false;
  double latch_a_m = 0, latch_b_m = 0;
  double seen_a_s = 0, seen_b_s = 0;  // when latched, the file's own time
  double from_s = 0, to_s = 0;
  double speed_m_per_s = 0;                     // at the later latch, signed
  double start_a_m = 0, start_b_m = 0;          // raw, at the beginning of the recording
  double beyond_first_m = 0;                    // travel of the reference from the first latch to the second
  double left_after_m = 0;                      // travel recorded after the second
  std::optional<math::Estimate> stress_free_m;  // raw skew at which the guides are free
  std::optional<math::Estimate> b_minus_a_m;    // at the stress-free attitude
  double largest_skew_off_free_m = 0;           // largest |s - s_free| on the way, 0 where s_free is unknown
  double largest_fight_n = 0;
  double hold_error_m = 0;  // how far the raw skew strayed from where it was held, up to the later latch
  bool left_out = false;    // of the mean, for an oddity of its own
};

struct Marks {
  std::vector<SearchRun> runs;
  bool known = false;
  std::string reason = "no recording of a search with latched marks";
  math::Estimate b_minus_a_free_m;
  double spread_m = 0;                         // sd of the single runs
  int counted = 0;                             // runs in the mean
  double naive_low_m = 0, naive_high_m = 0;    // bare latch differences, least and largest, slips taken out
  std::optional<Interval> b_minus_a_bounds_m;  // where s_free is not known but the allowable skew is
  std::vector<Oddity> oddities;
};

Marks find_marks(const std::vector<recording::Recording>& recordings, const identification::MotionFit& motion,
                 const machine::Machine& machine, std::optional<double> allowable_skew_m = std::nullopt);

}  // namespace evenbeam::homing
