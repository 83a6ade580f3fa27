#pragma once
// The search as plain numbers, for whoever writes it down for a controller: what station `marks` computed and
// promised. x along the rails; "leading" is the side whose mark ends the move. All forces are commanded newtons.
#include <string>
#include <vector>

#include "homing/search_problem.h"

namespace evenbeam::homing {

// Homing method of CiA 402 (object 6098h) for one side.
struct DriveMethod {
  int number = 0;  // 0: none fits, `why` says so
  std::string why;
};

struct SearchRecipe {
  bool known = false;     // false: `reason` says what is missing; nothing else is to be used
  bool promised = false;  // the guarantee holds and the offsets are known; else `reason` says what is amiss
  std::string reason, words;
  Reference reference = Reference::single_mark;
  Controller controller = Controller::one_command;
  int direction = 1;  // of the search: +1, -1 along x
  bool a_leads = true, backs_off = false;
  double speed_m_per_s = 0, acceleration_m_per_s2 = 0;
  double overtravel_m = 0;               // one command: beyond the leading side's mark, until it stands
  double beyond_first_mark_m = 0;        // the same counted from whichever mark comes first, at most
  double start_before_first_mark_m = 0;  // least way from the mean start to the first mark
  double longest_run_m = 0;              // no search that succeeds goes further than this from its start
  double longest_other_m = 0;            // the same of the other side; differs where each runs to its own mark
  double back_off_time_out_s = 0;        // 0: no backing off
  double search_time_out_s = 0;          // no search that succeeds takes longer
  // latch_A - latch_B of a search without slip lies in this range, zero where switched on; outside: refuse.
  Interval latch_difference_m;
  double pitch_m = 0;                // of periodic marks; 0 where single
  double largest_skew_change_m = 0;  // trip on the way: the skew may stray this far from where it started; 0 unknown
  double home_offset_a_m = 0, home_offset_b_m = 0;  // position after homing = raw - latch + offset
  // Then the skew is taken out: reference of x_A - x_B, after homing, goes to this at this rate.
  double end_skew_m = 0, skew_rate_m_per_s = 0, skew_time_out_s = 0;
  double stop_force_n = 0;     // hard stop: what each side's force is limited to while it searches; 0 not stated
  double largest_fight_n = 0;  // forecast of |F_A - F_B|/2 on the way, upper end; 0 unknown
  DriveMethod method_a, method_b;
};

}  // namespace evenbeam::homing
