#pragma once
// One way to search (direction, leading side, with or without backing off first) held against every start. With x
// counted in the direction of search, l the leading side and o the other, sigma = x_l - x_o:
//   l stands at u + alpha sigma, o at u + (alpha - 1) sigma + hold,
//   alpha = 1/2, u the mean place, where the search begins where it stands;
//   alpha = 0, u the leading end, after backing off to its switch.
// Everything to be promised is a margin >= 0 that is affine in (u, sigma, marks, edges, hold, delays), each in its
// own range, so that its least value over the box is exact and lies in a corner: the start that fails, if any does.
// The other's mark is passed lag = mark_o - mark_l + sigma +- hold after the leading side's: that, at its largest, is
// the over-travel (at least the way to stop); where it is negative the start is set back instead.
#include <array>
#include <string>
#include <vector>

#include "homing/search_problem.h"

namespace evenbeam::homing {

enum Variable {
  kStart,
  kSigma,
  kMarkLead,
  kMarkOther,
  kEdgeLead,
  kEdgeOther,
  kHold,
  kDelayLead,
  kDelayOther,
  kGiveLead,
  kGiveOther,
  kCount
};
using Box = std::array<Interval, kCount>;
using Corner = std::array<double, kCount>;
struct Affine {
  Corner slope{};
  double constant = 0;
};

enum class Promise {
  starts_before_lead,  // the leading side's mark (or its switch) lies ahead, met at full speed
  starts_before_other,
  switch_before_lead,  // the edge is met before the mark it stands for
  switch_before_other,
  no_slip_lead,  // and after the mark before that one
  no_slip_other,
  travel,
  skew,
  force,
};

struct Held {
  Promise promise = Promise::travel;
  double margin = 0;  // least over the box, m (force: N)
  Corner corner{};    // where it is least
};

struct SearchCase {
  int direction = 1;
  bool a_leads = true, backs_off = false;
  double overtravel_m = 0;          // of the leading side beyond its mark, until it stands
  double beyond_first_m = 0;        // furthest end of the move beyond whichever mark came first
  double longest_run_m = 0;         // of the leading side, from its start until it stands
  double longest_other_m = 0;       // of the other; where both follow one command the same
  double latest_start_m = 0;        // u, in the direction of search: beyond it not every start succeeds
  double start_before_first_m = 0;  // least way from the start to the first mark that has to be kept
  Box box{};
  std::vector<Held> promises;
  double least_margin = 0;  // the smallest of them
};

SearchCase judge_case(const SearchProblem& problem, int direction, bool a_leads, bool backs_off);

}  // namespace evenbeam::homing
