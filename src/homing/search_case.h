#pragma once
// One way to search (direction, leading side, with or without backing off first) held against every start. With x
// counted in the direction of search, l the leading side and o the other, sigma = x_l - x_o:
//   l stands at u + alpha sigma, o at u + (alpha - 1) sigma + hold,
//   alpha = 1/2, u the mean place, where the search begins where it stands;
//   alpha = 0, u the leading end, after backing off to its switch.
// Everything to be promised is a margin >= 0 that is affine in (u, sigma, marks, edges, hold, delays), each in its
// own range, so that its least value over the box is exact and lies in a corner: the start that fails, if any does.
// A stop found by force F of each drive, r_l and r_o the frictions, k = K_th/L^2 the guides' pull a metre of skew off
// the free one, sigma_e the skew where both stand at their stops: while one side stands at its stop the other goes on
// alone, so that it stops short and takes that for its stop unless
//   F >= r_o - k (sigma_e - free)   and   F >= r_l + k (sigma_e - free);
// for both to move, and to speed up so that they stay near their references, 2 F >= r_l + r_o + M a'. The skew that
// the search starts with need not be held: where F does not hold it, it slips towards sigma_e. No momentum is counted
// on: at speed a side may get further, which helps this once and is no promise. The other's mark is passed lag =
// mark_o - mark_l + sigma +- hold after the leading side's: that, at its largest, is the over-travel (at least the
// way to stop); where it is negative the start is set back instead.
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
  skew,                // on the way
  end_skew,            // of sides that end at their own marks or stops
  force,               // hard_stop: no more than the guides take
  moves_bridge,        // hard_stop: both drives together against both frictions
  reaches_stop_lead,   // hard_stop: the leading side alone against friction and guides, the other at its stop
  reaches_stop_other,  // and the other way round
};
// Margins of forces are in commanded newtons, all others in metres.
bool in_newtons(Promise promise);

struct Held {
  Promise promise = Promise::travel;
  double margin = 0;  // least over the box
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
  double least_margin = 0;   // the smallest of those in metres
  double least_force_n = 0;  // and of those in newtons; 1e300 where there are none
  bool holds() const { return least_margin >= 0 && least_force_n >= 0; }
};

SearchCase judge_case(const SearchProblem& problem, int direction, bool a_leads, bool backs_off);

}  // namespace evenbeam::homing
