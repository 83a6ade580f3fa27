#pragma once
// A search problem seen along the search, and margins affine in what is only known within ranges (search_case.h).
// Private to the planner.
#include "homing/search_case.h"

namespace evenbeam::homing {

inline constexpr double kRounding_m =
    1e-9;  // covers the rounding of sums of metres a thousand times; costs a nanometre
inline constexpr double kRounding_n = 1e-6;  // the same of newtons

// Named so that a margin reads as its formula.
Affine operator+(Affine a, const Affine& b);
Affine operator*(double k, Affine a);
Affine operator-(const Affine& a, const Affine& b);
Affine number(double value);
Affine variable(Variable v);

// Where a margin is least over the box; `rounding` is taken off it, in its own unit.
Held least(Promise promise, const Affine& margin, const Box& box, double rounding = kRounding_m);
double largest(const Affine& a, const Box& box);

struct View {
  const SearchProblem& p;
  Box box{};
  double alpha = 0.5, run_up_m = 0, stop_m = 0, free = 0;
  double backed_off_m = 0;  // furthest place of the leading end after backing off
  Interval travel;
  Affine lead, other, mark_lead = variable(kMarkLead), mark_other = variable(kMarkOther);
};

// Sides that search for themselves stray on the way, but pass and end at their own marks.
bool ends_at_own_marks(const SearchProblem& problem);
View look(const SearchProblem& problem, const SearchCase& way);
// Periodic marks without a switch: any pair will do that carries the same number; the one that the starts' middle
// points at is tried, and its neighbours (`pair` = -1, 0, 1).
void choose_pair(View& view, int pair);

}  // namespace evenbeam::homing
