#pragma once
// The search that cannot miss: of all ways that the problem leaves open (direction, leading side, backing off to a
// switch first) the shortest for which every promise holds from every start (search_case.h). The rules of the trade
// come out as special cases: the leading side's mark first, and the move is prolonged until the other's is seen; the
// other's first, and the start is set back. Where no way can be promised: the way that misses by least, the start
// that fails, and the smallest change that repairs it, tried out before it is proposed.
#include <optional>
#include <string>
#include <vector>

#include "homing/search_case.h"

namespace evenbeam::homing {

struct FailingStart {  // in the frame of the problem, not of the search
  double mean_m = 0, skew_m = 0;
  double mark_a_m = 0, mark_b_m = 0, edge_a_m = 0, edge_b_m = 0;
  double hold_m = 0, delay_a_s = 0, delay_b_s = 0, give_a_m = 0, give_b_m = 0;
};

enum class Changed {
  nothing,
  start_low,
  start_high,
  back_off_switch,
  switch_a,
  switch_b,
  start_skew,
  travel,
  force,
  mark_a,
  mark_b,
};

struct Repair {
  Changed what = Changed::nothing;
  double by_m = 0;  // shift along x; start_skew: by how much the range must be narrower at each end; force: N less
};

struct SearchTrouble {
  Promise promise = Promise::travel;
  double short_by = 0;  // m, or N
  FailingStart start;
};

struct SearchPlan {
  bool possible = false;  // false: the problem itself lacks something, `reason` says what
  bool promised = false;
  std::string reason;
  SearchCase way;                       // the one chosen
  std::vector<SearchTrouble> troubles;  // where not promised
  std::vector<Repair> repairs;          // together they make it hold
  bool repairs_suffice = false;         // tried: the problem so changed is promised
  double longest_s = 0;                 // time-out: no search that will succeed takes longer
  double longest_back_off_s = 0;        // where it backs off first
  // Periodic marks: the difference mark_A - mark_B of latched places seen from one switch-on's zero lies in a range
  // narrower than the pitch, so that a slip is seen and taken out by arithmetic: subtract the nearest whole pitch.
  bool slip_seen_by_arithmetic = false;
  Interval latch_difference_m;  // latch_A - latch_B without slip, zero where switched on
};

SearchPlan plan_search(const SearchProblem& problem);
// Of a plan that is not promised: what the finding and the picture speak of; too little force before places.
const SearchTrouble& worst_trouble(const SearchPlan& plan);
// The corner of a margin as a start in the problem's frame.
FailingStart start_of(const SearchCase& way, const Corner& corner);
// A search to be shown: where the plan is promised, from the latest start that succeeds; `beyond_m` after it the
// first start that does not, marks and skew at the same corner. nullopt where no start is too late.
std::optional<FailingStart> latest_start(const SearchPlan& plan, double beyond_m);
SearchProblem changed(SearchProblem problem, const Repair& repair, bool a_leads);
// Sentences for the person: the recipe, and what repairs it.
std::string recipe_text(const SearchProblem& problem, const SearchPlan& plan);
std::string to_text(Promise promise);
std::string repair_text(const Repair& repair, bool a_leads);

}  // namespace evenbeam::homing
