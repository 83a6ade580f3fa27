#include "homing/search_case.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

constexpr double kRounding_m = 1e-9;  // covers the rounding of sums of metres a thousand times; costs a nanometre

Interval turned(const Interval& i, int direction) { return direction > 0 ? i : Interval{-i.high, -i.low}; }

// Named so that a margin reads as its formula.
Affine operator+(Affine a, const Affine& b) {
  for (int i = 0; i < kCount; ++i) a.slope[i] += b.slope[i];
  a.constant += b.constant;
  return a;
}
Affine operator*(double k, Affine a) {
  for (double& s : a.slope) s *= k;
  a.constant *= k;
  return a;
}
Affine operator-(const Affine& a, const Affine& b) { return a + -1.0 * b; }
Affine number(double value) { return {.constant = value}; }
Affine variable(Variable v) {
  Affine a;
  a.slope[v] = 1;
  return a;
}

Held least(Promise promise, const Affine& margin, const Box& box) {
  Held held{.promise = promise, .margin = margin.constant};
  for (int i = 0; i < kCount; ++i) {
    const double k = margin.slope[i];
    held.corner[i] = k > 0 ? box[i].low : k < 0 ? box[i].high : (box[i].low + box[i].high) / 2;
    if (k != 0) held.margin += k * held.corner[i];
  }
  held.margin -= kRounding_m;
  return held;
}

double largest(const Affine& a, const Box& box) {
  return -least(Promise::travel, -1.0 * a, box).margin - 2 * kRounding_m;
}

// The problem seen along the search, with what follows from it.
struct View {
  const SearchProblem& p;
  Box box{};
  double alpha = 0.5, run_up_m = 0, stop_m = 0, free = 0;
  double backed_off_m = 0;  // furthest place of the leading end after backing off
  Interval travel;
  Affine lead, other, mark_lead = variable(kMarkLead), mark_other = variable(kMarkOther);
};

// Sides that search for themselves stray on the way, but pass and end at their own marks.
bool ends_at_own_marks(const SearchProblem& p) {
  return p.reference == Reference::hard_stop ||
         (p.controller == Controller::each_its_own && p.reference != Reference::distance_coded);
}

View look(const SearchProblem& p, const SearchCase& c) {
  View v{.p = p};
  const auto& lead = c.a_leads ? p.a : p.b;
  const auto& other = c.a_leads ? p.b : p.a;
  const int skew_sign = c.direction * (c.a_leads ? 1 : -1);
  v.travel = turned(p.travel_m, c.direction);
  v.run_up_m = p.speed_m_per_s * p.speed_m_per_s / (2 * p.acceleration_m_per_s2);
  v.stop_m = v.run_up_m + p.speed_m_per_s * p.latch_delay_s.high;
  v.free = skew_sign * p.free_skew_m;
  v.box[kSigma] = turned(p.start_skew_m, skew_sign);
  v.box[kStart] = turned(p.start_m, c.direction);
  if (c.backs_off) {
    v.alpha = 0;
    const Interval edge = turned(*lead.back_off_edge_m, c.direction);
    v.backed_off_m = edge.low - v.stop_m;
    v.box[kStart] = {std::min(v.backed_off_m, v.box[kStart].low + v.box[kSigma].low / 2), edge.high};
  }
  v.box[kMarkLead] = turned(lead.mark_m, c.direction);
  v.box[kMarkOther] = turned(other.mark_m, c.direction);
  v.box[kEdgeLead] = turned(lead.edge_m, c.direction);
  v.box[kEdgeOther] = turned(other.edge_m, c.direction);
  if (p.reference != Reference::absolute) v.box[kHold] = {-p.hold_error_m, p.hold_error_m};
  v.box[kDelayLead] = v.box[kDelayOther] = p.latch_delay_s;
  v.box[kGiveLead] = v.box[kGiveOther] = {0, p.stop_give_m};
  v.lead = variable(kStart) + v.alpha * variable(kSigma);
  v.other = variable(kStart) + (v.alpha - 1) * variable(kSigma) + (ends_at_own_marks(p) ? 0 : 1) * variable(kHold);
  return v;
}

// Periodic marks without a switch: any pair will do that carries the same number; the one that the starts' middle
// points at is tried, and its neighbours (`pair` = -1, 0, 1).
void choose_pair(View& v, int pair) {
  const double pitch = *v.p.pitch_m;
  const Box& b = v.box;
  const double middle = (b[kStart].low + b[kStart].high) / 2 + (v.alpha - 0.5) * (b[kSigma].low + b[kSigma].high) / 2;
  const double mark = (b[kMarkLead].low + b[kMarkLead].high + b[kMarkOther].low + b[kMarkOther].high) / 4;
  const double shift = pitch * (pair + std::round((middle + v.run_up_m + pitch / 2 - mark) / pitch));
  for (const Variable mark_variable : {kMarkLead, kMarkOther})
    v.box[mark_variable] = {b[mark_variable].low + shift, b[mark_variable].high + shift};
}

struct Promises {
  SearchCase& c;
  const View& v;
  void hold(Promise promise, const Affine& margin) { c.promises.push_back(least(promise, margin, v.box)); }
};

// The start at which one side of a pair slips and the other does not. At u = t_l (t_o) the leading (other) side
// stands just at a mark's place less the run-up; between the two they take marks of different number. t_l falls and
// t_o grows with sigma, and each has its mark for itself, so that either order is at its widest in one corner. Of
// both orders and the marks next to the pair the widest part inside the range of starts is taken.
Corner slipping_start(const View& v, Promise promise) {
  const bool lead = promise == Promise::starts_before_lead || promise == Promise::no_slip_lead;
  const bool early = promise == Promise::no_slip_lead || promise == Promise::no_slip_other;
  const bool named_first = lead != early;  // the order that the promise speaks of, taken where both are as wide
  const double pitch = *v.p.pitch_m;
  Corner best{};
  double widest = -1e300;
  for (const bool lead_first : {named_first, !named_first}) {  // t_l as small and t_o as large as can be, or turned
    Corner c{};
    const auto end = [&](Variable i, bool high) { c[i] = high ? v.box[i].high : v.box[i].low; };
    end(kMarkLead, !lead_first), end(kMarkOther, lead_first), end(kSigma, lead_first), end(kHold, !lead_first);
    const double t_lead = c[kMarkLead] - v.run_up_m - v.alpha * c[kSigma];
    const double t_other = c[kMarkOther] - v.run_up_m - (v.alpha - 1) * c[kSigma] - v.other.slope[kHold] * c[kHold];
    for (const int next : {early ? -1 : 0, early ? 0 : -1, 1}) {
      const double low = std::max(std::min(t_lead, t_other) + next * pitch, v.box[kStart].low);
      const double high = std::min(std::max(t_lead, t_other) + next * pitch, v.box[kStart].high);
      if (high - low <= widest) continue;
      widest = high - low;
      best = c;
      best[kStart] = (low + high) / 2;
    }
  }
  return best;
}

// Marks armed once at full speed; each must lie ahead, and the one before it behind.
void marks_without_switch(Promises& promises, const View& v) {
  const Affine run_up = number(v.run_up_m);
  const auto hold = [&](Promise promise, const Affine& margin) {
    promises.hold(promise, margin);
    if (v.p.reference == Reference::periodic) promises.c.promises.back().corner = slipping_start(v, promise);
  };
  hold(Promise::starts_before_lead, v.mark_lead - v.lead - run_up);
  hold(Promise::starts_before_other, v.mark_other - v.other - run_up);
  if (v.p.reference != Reference::periodic) return;
  const Affine pitch = number(*v.p.pitch_m);
  hold(Promise::no_slip_lead, v.lead + run_up - (v.mark_lead - pitch));
  hold(Promise::no_slip_other, v.other + run_up - (v.mark_other - pitch));
}

// Armed at the edge or, where the search begins past it, at once: the further of two places. The greater of their
// least margins is a bound, exact where the two share no variable but the mark.
// The way run during the delay would add to both and is left out: it is less where the side still gathers speed.
Held later_of(const Held& edge, const Held& start, const Affine& edge_margin, const Box& box) {
  Held held = edge.margin >= start.margin ? edge : start;
  for (int i = 0; i < kCount; ++i) held.corner[i] = edge_margin.slope[i] != 0 ? edge.corner[i] : start.corner[i];
  for (const Variable delay : {kDelayLead, kDelayOther}) held.corner[delay] = box[delay].low;
  return held;
}

// Marks armed by the switch: before the mark, at full speed there, and after the mark before it.
void marks_after_switch(Promises& promises, const View& v) {
  const Affine run_up = number(v.run_up_m), edge = variable(kEdgeLead);
  const Affine wait_lead = v.p.speed_m_per_s * variable(kDelayLead);
  const Affine wait_other = v.p.speed_m_per_s * variable(kDelayOther);
  // Where the other stands when it is armed: at its own edge, or where the leading side's edge finds it.
  const Affine other_armed = v.p.edge_shared ? edge - variable(kSigma) + variable(kHold) : variable(kEdgeOther);
  for (const Affine& way : {run_up, wait_lead})
    promises.hold(Promise::starts_before_lead, v.mark_lead - v.lead - way);
  Affine other_start = v.other;
  if (v.p.edge_shared) other_start.slope[kHold] = 1;
  promises.hold(Promise::starts_before_other, v.mark_other - v.other - run_up);
  promises.hold(Promise::starts_before_other, v.mark_other - other_start - wait_other);
  promises.hold(Promise::switch_before_lead, v.mark_lead - edge - wait_lead);
  promises.hold(Promise::switch_before_other, v.mark_other - other_armed - wait_other);
  if (!v.p.pitch_m) return;
  const auto no_slip = [&](Promise promise, const Affine& armed, const Affine& start, const Affine& before) {
    promises.c.promises.push_back(later_of(least(promise, armed - before, v.box),
                                           least(promise, start - before, v.box), armed - before, v.box));
  };
  no_slip(Promise::no_slip_lead, edge, v.lead, v.mark_lead - number(*v.p.pitch_m));
  no_slip(Promise::no_slip_other, other_armed, other_start, v.mark_other - number(*v.p.pitch_m));
}

void keep_skew(Promises& promises, const View& v, const Affine& sigma) {
  if (!v.p.allowable_skew_m) return;
  const Affine room = number(*v.p.allowable_skew_m), off = sigma - number(v.free);
  promises.hold(Promise::skew, room - off);
  promises.hold(Promise::skew, room + off);
}

// Backing off must end inside the travel, too; where the search begins where the bridge stands, it stands inside.
void keep_start(Promises& promises, const View& v, double backed_off_m) {
  keep_skew(promises, v, variable(kSigma) - variable(kHold));
  if (v.alpha != 0) return;
  promises.hold(Promise::travel, number(backed_off_m - v.travel.low));
  promises.hold(Promise::travel, number(backed_off_m - v.travel.low) - variable(kSigma) + variable(kHold));
}

// Both follow one move that ends `overtravel` beyond the leading side's mark.
void run_by_one_command(Promises& promises, const View& v, SearchCase& c) {
  const Affine lag = v.mark_other - v.mark_lead + variable(kSigma) - variable(kHold);
  c.overtravel_m = std::max(v.stop_m, largest(lag, v.box) + 2 * kRounding_m);
  // The other's may be passed first, at its earliest by the largest of -lag.
  c.beyond_first_m = c.overtravel_m + std::max(0.0, largest(-1.0 * lag, v.box));
  const Affine end = v.mark_lead + number(c.overtravel_m);
  promises.hold(Promise::travel, number(v.travel.high) - end);
  promises.hold(Promise::travel, number(v.travel.high) - (end - variable(kSigma) + variable(kHold)));
  c.longest_run_m = c.longest_other_m = largest(end - v.lead, v.box);
}

// Each stops at its own mark; between, the skew runs from the start's to the marks', never outside the two.
void run_each_its_own(Promises& promises, const View& v, SearchCase& c) {
  const bool wall = v.p.reference == Reference::hard_stop;
  const double speed = v.p.speed_m_per_s;
  const double beyond = wall ? 0 : v.run_up_m;
  c.overtravel_m = c.beyond_first_m = wall ? v.p.stop_give_m : v.stop_m;
  const auto end_of = [&](const Affine& mark, Variable delay, Variable give) {
    return mark + number(beyond) + (wall ? variable(give) : speed * variable(delay));
  };
  const Affine end_lead = end_of(v.mark_lead, kDelayLead, kGiveLead);
  const Affine end_other = end_of(v.mark_other, kDelayOther, kGiveOther);
  if (!wall) {  // a stop is the end of travel
    promises.hold(Promise::travel, number(v.travel.high) - end_lead);
    promises.hold(Promise::travel, number(v.travel.high) - end_other);
  }
  keep_skew(promises, v, end_lead - end_other);
  c.longest_run_m = largest(end_lead - v.lead, v.box);
  c.longest_other_m = largest(end_other - v.other, v.box);
  if (wall && v.p.force_limit_n && v.p.stop_force_n) {
    Held held = least(Promise::force, number(*v.p.force_limit_n - *v.p.stop_force_n), v.box);
    promises.c.promises.push_back(held);
  }
}

// Distance-coded: two spacings in a row add up to the pitch, or one code step more, so any way of that length holds
// two neighbouring marks.
void run_fixed_length(Promises& promises, const View& v, SearchCase& c) {
  const double way = v.run_up_m + *v.p.pitch_m + v.p.code_step_m + 2 * v.p.hold_error_m + 2 * kRounding_m;
  c.overtravel_m = c.beyond_first_m = *v.p.pitch_m + v.p.code_step_m;
  c.longest_run_m = c.longest_other_m = way + v.stop_m;
  promises.hold(Promise::travel, number(v.travel.high - c.longest_run_m) - v.lead);
  promises.hold(Promise::travel, number(v.travel.high - c.longest_run_m) - v.other);
}

void note_start(SearchCase& c, const View& v) {
  c.latest_start_m = v.box[kStart].high;
  double room = 1e300;
  for (const Held& held : c.promises)
    if (held.promise == Promise::starts_before_lead || held.promise == Promise::starts_before_other)
      room = std::min(room, held.margin);
  if (room > 1e299) return;
  c.latest_start_m += room;
  // From the latest mean start to the first of both marks, both as they lie at the middle of their ranges.
  const double first =
      std::min(v.box[kMarkLead].low + v.box[kMarkLead].high, v.box[kMarkOther].low + v.box[kMarkOther].high) / 2;
  c.start_before_first_m = first - c.latest_start_m;
}

SearchCase judge_pair(const SearchProblem& problem, int direction, bool a_leads, bool backs_off, int pair) {
  SearchCase c{.direction = direction, .a_leads = a_leads, .backs_off = backs_off};
  View v = look(problem, c);
  if (problem.reference == Reference::periodic) choose_pair(v, pair);
  Promises promises{c, v};
  keep_start(promises, v, v.backed_off_m);
  if (problem.reference == Reference::distance_coded) {
    run_fixed_length(promises, v, c);
  } else if (problem.reference != Reference::absolute) {
    if (problem.reference == Reference::switch_and_mark)
      marks_after_switch(promises, v);
    else
      marks_without_switch(promises, v);
    if (ends_at_own_marks(problem))
      run_each_its_own(promises, v, c);
    else
      run_by_one_command(promises, v, c);
  }
  note_start(c, v);
  c.box = v.box;
  c.least_margin = 1e300;
  for (const Held& held : c.promises) c.least_margin = std::min(c.least_margin, held.margin);
  return c;
}

}  // namespace

SearchCase judge_case(const SearchProblem& problem, int direction, bool a_leads, bool backs_off) {
  const SearchCase best = judge_pair(problem, direction, a_leads, backs_off, 0);
  if (problem.reference != Reference::periodic || best.least_margin >= 0) return best;
  for (const int pair : {-1, 1}) {
    const SearchCase next = judge_pair(problem, direction, a_leads, backs_off, pair);
    if (next.least_margin >= 0) return next;
  }
  return best;
}

}  // namespace evenbeam::homing
