#include "homing/search_case.h"

#include <algorithm>
#include <cmath>

#include "homing/search_view.h"

namespace evenbeam::homing {
namespace {

struct Promises {
  SearchCase& c;
  const View& v;
  void hold(Promise promise, const Affine& margin) {
    c.promises.push_back(least(promise, margin, v.box, in_newtons(promise) ? kRounding_n : kRounding_m));
  }
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

void keep_skew(Promises& promises, Promise promise, const View& v, const Affine& sigma) {
  if (!v.p.allowable_skew_m) return;
  const Affine room = number(*v.p.allowable_skew_m), off = sigma - number(v.free);
  promises.hold(promise, room - off);
  promises.hold(promise, room + off);
}

// Backing off must end inside the travel, too; where the search begins where the bridge stands, it stands inside.
void keep_start(Promises& promises, const View& v, double backed_off_m) {
  keep_skew(promises, Promise::skew, v, variable(kSigma) - variable(kHold));
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

// F as large as the guides take, and large enough: search_case.h has the law. The side that comes last meets its stop
// before that gives; the other's has given.
void force_at_stops(Promises& promises, const View& v) {
  const SearchProblem& p = v.p;
  if (!p.stop_force_n) return;
  const double force = *p.stop_force_n;
  if (p.force_limit_n) promises.hold(Promise::force, number(*p.force_limit_n - force));
  if (!reach_is_promised(p)) return;
  const double lead = promises.c.a_leads ? *p.friction_a_n : *p.friction_b_n;
  const double other = promises.c.a_leads ? *p.friction_b_n : *p.friction_a_n, k = *p.guide_n_per_m;
  const Affine lead_ahead = v.mark_lead - (v.mark_other + variable(kGiveOther)) - number(v.free);
  const Affine other_ahead = v.mark_other - (v.mark_lead + variable(kGiveLead)) + number(v.free);
  // Speeding up with a' instead of a both fall behind their reference by v^2/2 (1/a' - 1/a), which may be
  // kPressing_m.
  const double v2 = p.speed_m_per_s * p.speed_m_per_s;
  const double speeding_up = 1 / (1 / p.acceleration_m_per_s2 + 2 * kPressing_m / v2);
  promises.hold(Promise::moves_bridge, number(2 * force - lead - other - *p.mass_kg * speeding_up));
  promises.hold(Promise::reaches_stop_lead, number(force - lead) - k * lead_ahead);
  promises.hold(Promise::reaches_stop_other, number(force - other) - k * other_ahead);
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
  keep_skew(promises, Promise::end_skew, v, end_lead - end_other);
  c.longest_run_m = largest(end_lead - v.lead, v.box);
  c.longest_other_m = largest(end_other - v.other, v.box);
  if (wall) force_at_stops(promises, v);
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
  c.least_margin = c.least_force_n = 1e300;
  for (const Held& held : c.promises) {
    double& least = in_newtons(held.promise) ? c.least_force_n : c.least_margin;
    least = std::min(least, held.margin);
  }
  return c;
}

}  // namespace

bool in_newtons(Promise promise) {
  return promise == Promise::force || promise == Promise::moves_bridge || promise == Promise::reaches_stop_lead ||
         promise == Promise::reaches_stop_other;
}

SearchCase judge_case(const SearchProblem& problem, int direction, bool a_leads, bool backs_off) {
  const SearchCase best = judge_pair(problem, direction, a_leads, backs_off, 0);
  if (problem.reference != Reference::periodic || best.holds()) return best;
  for (const int pair : {-1, 1}) {
    const SearchCase next = judge_pair(problem, direction, a_leads, backs_off, pair);
    if (next.holds()) return next;
  }
  return best;
}

}  // namespace evenbeam::homing
