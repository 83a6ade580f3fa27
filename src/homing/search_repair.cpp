#include "homing/search_repair.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

// The end of the range of starts that moves.
Changed start_end(double by) { return by < 0 ? Changed::start_high : Changed::start_low; }

// More force where the guides take it, else the stop that is met last comes sooner: less skew to go to against them.
Repair repair_force(const SearchProblem& p, const SearchCase& way, const Held& held, bool by_force) {
  const double by = -held.margin + 1e-5;
  if (held.promise == Promise::force) return {Changed::force, by};
  if (held.promise == Promise::moves_bridge) return {Changed::force, -by / 2};
  const double pull = p.guide_n_per_m.value_or(0);
  if (by_force || pull <= 0) return {Changed::force, -by};
  const bool of_a = (held.promise == Promise::reaches_stop_lead) == way.a_leads;
  return {of_a ? Changed::mark_a : Changed::mark_b, -way.direction * by / pull};
}

// The mark that is too far ahead of the other comes sooner.
Repair repair_end_skew(const SearchProblem& p, const SearchCase& way, const Held& held) {
  const double lead_ahead = held.corner[kMarkLead] - held.corner[kMarkOther];
  const double free = way.direction * (way.a_leads ? p.free_skew_m : -p.free_skew_m);
  const bool of_a = (lead_ahead > free) == way.a_leads;
  return {of_a ? Changed::mark_a : Changed::mark_b, -way.direction * (-held.margin + 1e-9)};
}

Repair repair_for(const SearchProblem& p, const SearchCase& way, const Held& held, bool by_force) {
  const double by = -held.margin + 1e-9;
  const int d = way.direction;
  const bool edges = p.reference == Reference::switch_and_mark;
  const Changed lead_switch = way.a_leads ? Changed::switch_a : Changed::switch_b;
  const Changed other_switch = p.edge_shared ? lead_switch : way.a_leads ? Changed::switch_b : Changed::switch_a;
  switch (held.promise) {
    case Promise::starts_before_lead:
    case Promise::starts_before_other:
      return {way.backs_off ? Changed::back_off_switch : start_end(-d * by), -d * by};
    case Promise::switch_before_lead:
      return {lead_switch, -d * by};
    case Promise::switch_before_other:
      return {other_switch, -d * by};
    case Promise::no_slip_lead:
      return {edges ? lead_switch : start_end(d * by), d * by};
    case Promise::no_slip_other:
      return {edges ? other_switch : start_end(d * by), d * by};
    case Promise::travel:
      return {Changed::travel, by};
    case Promise::skew:
      return {Changed::start_skew, by};
    case Promise::end_skew:
      return repair_end_skew(p, way, held);
    case Promise::force:
    case Promise::moves_bridge:
    case Promise::reaches_stop_lead:
    case Promise::reaches_stop_other:
      return repair_force(p, way, held, by_force);
  }
  return {};
}

// One repair a thing: the larger; opposite wishes cannot both be met and are left for the trial to refuse.
void add_repair(std::vector<Repair>& repairs, const Repair& repair) {
  for (Repair& known : repairs)
    if (known.what == repair.what) {
      if (std::abs(repair.by_m) > std::abs(known.by_m)) known = repair;
      return;
    }
  repairs.push_back(repair);
}

// Whether all that is amiss is too little force, and the guides take enough.
bool force_repairs(const SearchProblem& p, const SearchPlan& plan) {
  SearchProblem trial = p;
  if (p.stop_force_n) trial.stop_force_n = p.force_limit_n.value_or(1e9);
  return judge_case(trial, plan.way.direction, plan.way.a_leads, plan.way.backs_off).holds();
}

// Against stops each repair changes what the others have to do, and what a stop gives with them: force first, then
// the largest shift, of which a part at a time as long as it is coarse.
Repair most_urgent(const std::vector<Repair>& wanted) {
  Repair one = *std::max_element(wanted.begin(), wanted.end(), [](const Repair& x, const Repair& y) {
    if ((x.what == Changed::force) != (y.what == Changed::force)) return y.what == Changed::force;
    return std::abs(x.by_m) < std::abs(y.by_m);
  });
  if (one.what != Changed::force && std::abs(one.by_m) > 20e-6) one.by_m *= 0.6;
  return one;
}

bool suffice(const SearchProblem& p, const SearchPlan& plan) {
  SearchProblem trial = p;
  for (const Repair& r : plan.repairs) trial = changed(trial, r, plan.way.a_leads);
  return judge_case(trial, plan.way.direction, plan.way.a_leads, plan.way.backs_off).holds();
}

// Repairs that together suffice, each made as small as it can be with the others as they are; the first ones first.
void shrink(const SearchProblem& p, SearchPlan& plan) {
  for (size_t i = 0; i < plan.repairs.size(); ++i) {
    const double whole = plan.repairs[i].by_m;
    double too_little = 0, enough = 1;
    plan.repairs[i].by_m = 0;
    if (suffice(p, plan)) {
      plan.repairs.erase(plan.repairs.begin() + static_cast<std::ptrdiff_t>(i--));
      continue;
    }
    for (int k = 0; k < 40; ++k) {
      const double middle = (too_little + enough) / 2;
      plan.repairs[i].by_m = middle * whole;
      (suffice(p, plan) ? enough : too_little) = middle;
    }
    plan.repairs[i].by_m = enough * whole;
  }
}

bool ordered(const Interval& i) { return i.low <= i.high; }

// From `trial`, the problem with the repairs found so far, on. One change may call for the next (a flag moved back
// wants an earlier start): at most a few rounds.
void try_repairs(const SearchProblem& p, SearchPlan& plan, SearchProblem trial) {
  const bool stops = p.reference == Reference::hard_stop, by_force = stops && force_repairs(trial, plan);
  for (int round = 0; round < (stops ? 40 : 4) && !plan.repairs_suffice; ++round) {
    std::vector<Repair> wanted;
    const SearchCase way = judge_case(trial, plan.way.direction, plan.way.a_leads, plan.way.backs_off);
    for (const Held& held : way.promises)
      if (held.margin < 0) add_repair(wanted, repair_for(p, way, held, by_force));
    if (stops && !wanted.empty()) wanted = {most_urgent(wanted)};
    for (const Repair& r : wanted) {
      trial = changed(trial, r, plan.way.a_leads);
      const auto known =
          std::find_if(plan.repairs.begin(), plan.repairs.end(), [&](const Repair& k) { return k.what == r.what; });
      if (known == plan.repairs.end())
        plan.repairs.push_back(r);
      else
        known->by_m += r.by_m;
    }
    if (!ordered(trial.start_m) || !ordered(trial.start_skew_m)) return;
    plan.repairs_suffice = judge_case(trial, plan.way.direction, plan.way.a_leads, plan.way.backs_off).holds();
  }
}

}  // namespace

void find_troubles(const SearchProblem& p, SearchPlan& plan) {
  for (const Held& held : plan.way.promises)
    if (held.margin < 0) plan.troubles.push_back({held.promise, -held.margin, start_of(plan.way, held.corner)});
  try_repairs(p, plan, p);
  const double room = p.force_limit_n && p.stop_force_n ? *p.force_limit_n - *p.stop_force_n : 0;
  if (!plan.repairs_suffice && room > 0) {  // both: all the force that the guides take, then the stops
    plan.repairs = {{Changed::force, -room}};
    try_repairs(p, plan, changed(p, plan.repairs.front(), plan.way.a_leads));
  }
  if (plan.repairs_suffice) shrink(p, plan);
}

}  // namespace evenbeam::homing
