#include "homing/search_plan.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

bool ordered(const Interval& i) { return std::isfinite(i.low) && std::isfinite(i.high) && i.low <= i.high; }

// What keeps the problem from being one; empty where nothing does.
std::string lacking(const SearchProblem& p) {
  for (const Interval& i :
       {p.a.mark_m, p.b.mark_m, p.a.edge_m, p.b.edge_m, p.start_m, p.start_skew_m, p.latch_delay_s, p.travel_m})
    if (!ordered(i)) return "a range is turned round or not finite";
  if (!(p.speed_m_per_s > 0) || !(p.acceleration_m_per_s2 > 0)) return "search speed and deceleration are needed";
  if (p.latch_delay_s.low < 0 || p.hold_error_m < 0) return "a delay or an error of holding is negative";
  const bool wants_pitch = p.reference == Reference::periodic || p.reference == Reference::distance_coded;
  if (wants_pitch && !(p.pitch_m.value_or(0) > 0)) return "the pitch of the marks is not known";
  return "";
}

std::vector<SearchCase> all_ways(const SearchProblem& p) {
  std::vector<SearchCase> ways;
  for (const int direction : {1, -1})
    for (const bool a_leads : {true, false})
      for (const bool backs_off : {false, true}) {
        if (p.direction.value_or(direction) != direction || p.a_leads.value_or(a_leads) != a_leads) continue;
        if (backs_off && !(a_leads ? p.a : p.b).back_off_edge_m) continue;
        ways.push_back(judge_case(p, direction, a_leads, backs_off));
      }
  return ways;
}

// The shortest that holds, else the one that misses by least; the order of trying settles ties.
const SearchCase& best_of(const std::vector<SearchCase>& ways) {
  return *std::min_element(ways.begin(), ways.end(), [](const SearchCase& x, const SearchCase& y) {
    const bool holds_x = x.least_margin >= 0, holds_y = y.least_margin >= 0;
    if (holds_x != holds_y) return holds_x;
    return holds_x ? x.longest_run_m < y.longest_run_m - 1e-12 : x.least_margin > y.least_margin + 1e-12;
  });
}

// The end of the range of starts that moves.
Changed start_end(double by) { return by < 0 ? Changed::start_high : Changed::start_low; }

Repair repair_for(const SearchProblem& p, const SearchCase& way, const Held& held) {
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
    case Promise::force:
      return {Changed::force, by};
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

void find_troubles(const SearchProblem& p, SearchPlan& plan) {
  SearchProblem trial = p;
  // One change may call for the next (a flag moved back wants an earlier start): at most a few rounds.
  for (int round = 0; round < 4 && !plan.repairs_suffice; ++round) {
    std::vector<Repair> wanted;
    const SearchCase way = judge_case(trial, plan.way.direction, plan.way.a_leads, plan.way.backs_off);
    for (const Held& held : way.promises) {
      if (held.margin >= 0) continue;
      if (round == 0) plan.troubles.push_back({held.promise, -held.margin, start_of(way, held.corner)});
      add_repair(wanted, repair_for(p, way, held));
    }
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
    plan.repairs_suffice =
        judge_case(trial, plan.way.direction, plan.way.a_leads, plan.way.backs_off).least_margin >= 0;
  }
}

void shift(Interval& i, double by) { i.low += by, i.high += by; }

double mm(double m) { return 1e3 * m; }

}  // namespace

FailingStart start_of(const SearchCase& way, const Corner& corner) {
  const int d = way.direction;
  const double sigma = corner[kSigma], alpha = way.backs_off ? 0 : 0.5;
  const double mean = corner[kStart] + (alpha - 0.5) * sigma;
  FailingStart s{.mean_m = d * mean, .skew_m = d * (way.a_leads ? sigma : -sigma), .hold_m = corner[kHold]};
  const auto lead_other = [&](Variable lead, Variable other, double& a, double& b, double sign) {
    a = sign * corner[way.a_leads ? lead : other];
    b = sign * corner[way.a_leads ? other : lead];
  };
  lead_other(kMarkLead, kMarkOther, s.mark_a_m, s.mark_b_m, d);
  lead_other(kEdgeLead, kEdgeOther, s.edge_a_m, s.edge_b_m, d);
  lead_other(kDelayLead, kDelayOther, s.delay_a_s, s.delay_b_s, 1);
  lead_other(kGiveLead, kGiveOther, s.give_a_m, s.give_b_m, 1);
  return s;
}

std::optional<FailingStart> latest_start(const SearchPlan& plan, double beyond_m) {
  const Held* tightest = nullptr;
  for (const Held& held : plan.way.promises) {
    const bool ahead = held.promise == Promise::starts_before_lead || held.promise == Promise::starts_before_other;
    if (ahead && (tightest == nullptr || held.margin < tightest->margin)) tightest = &held;
  }
  if (tightest == nullptr) return std::nullopt;
  Corner corner = tightest->corner;
  corner[kStart] += tightest->margin + beyond_m;
  return start_of(plan.way, corner);
}

SearchProblem changed(SearchProblem p, const Repair& repair, bool a_leads) {
  switch (repair.what) {
    case Changed::start_low:
      p.start_m.low += repair.by_m;
      break;
    case Changed::start_high:
      p.start_m.high += repair.by_m;
      break;
    case Changed::back_off_switch:
      if (auto& edge = (a_leads ? p.a : p.b).back_off_edge_m) shift(*edge, repair.by_m);
      break;
    case Changed::switch_a:
      shift(p.a.edge_m, repair.by_m);
      break;
    case Changed::switch_b:
      shift(p.b.edge_m, repair.by_m);
      break;
    case Changed::start_skew:
      p.start_skew_m.low += repair.by_m;
      p.start_skew_m.high -= repair.by_m;
      break;
    case Changed::travel:
      p.travel_m.low -= repair.by_m;
      p.travel_m.high += repair.by_m;
      break;
    case Changed::force:
      if (p.stop_force_n) *p.stop_force_n -= repair.by_m;
      break;
    case Changed::nothing:
      break;
  }
  return p;
}

SearchPlan plan_search(const SearchProblem& p) {
  SearchPlan plan;
  plan.reason = lacking(p);
  if (!plan.reason.empty()) return plan;
  const std::vector<SearchCase> ways = all_ways(p);
  if (ways.empty()) {
    plan.reason = "no way of searching is left open";
    return plan;
  }
  plan.possible = true;
  plan.way = best_of(ways);
  plan.promised = plan.way.least_margin >= 0;
  plan.longest_s = std::max(plan.way.longest_run_m, plan.way.longest_other_m) / p.speed_m_per_s +
                   2 * p.speed_m_per_s / p.acceleration_m_per_s2;
  if (plan.way.backs_off) {
    // From the furthest start to the switch, and what it takes to stop beyond.
    const double skew = std::max(std::abs(p.start_skew_m.low), std::abs(p.start_skew_m.high)) / 2;
    const double furthest = plan.way.direction > 0 ? p.start_m.high : -p.start_m.low;
    const double way = std::max(0.0, furthest + skew - plan.way.box[kStart].low);
    plan.longest_back_off_s = way / p.speed_m_per_s + 2 * p.speed_m_per_s / p.acceleration_m_per_s2;
  }
  const double hold = 2 * p.hold_error_m;
  plan.latch_difference_m = {p.a.mark_m.low - p.b.mark_m.high - p.start_skew_m.high - hold,
                             p.a.mark_m.high - p.b.mark_m.low - p.start_skew_m.low + hold};
  plan.slip_seen_by_arithmetic = p.pitch_m && plan.latch_difference_m.high - plan.latch_difference_m.low < *p.pitch_m;
  if (!plan.promised) find_troubles(p, plan);
  return plan;
}

std::string to_text(Promise promise) {
  switch (promise) {
    case Promise::starts_before_lead:
      return "the leading side's mark lies ahead of every start";
    case Promise::starts_before_other:
      return "the other side's mark lies ahead of every start";
    case Promise::switch_before_lead:
      return "the leading side's switch is met before its mark";
    case Promise::switch_before_other:
      return "the other side is armed before its mark";
    case Promise::no_slip_lead:
      return "the leading side takes no earlier mark";
    case Promise::no_slip_other:
      return "the other side takes no earlier mark";
    case Promise::travel:
      return "both ends stay inside the travel";
    case Promise::skew:
      return "the skew stays within what guides and mountings take";
    case Promise::force:
      return "the force at the stop stays within what the guides take";
  }
  return "";
}

std::string repair_text(const Repair& r, bool a_leads) {
  const char* towards = r.by_m > 0 ? "+x" : "-x";
  switch (r.what) {
    case Changed::start_high:
      return fmt::format("let no search begin in the last {:.3f} mm (towards +x) of where it may begin now",
                         mm(-r.by_m));
    case Changed::start_low:
      return fmt::format("let no search begin in the first {:.3f} mm (towards -x) of where it may begin now",
                         mm(r.by_m));
    case Changed::back_off_switch:
      return fmt::format("move {}'s switch for backing off by {:.3f} mm towards {}", a_leads ? "A" : "B",
                         mm(std::abs(r.by_m)), towards);
    case Changed::switch_a:
    case Changed::switch_b:
      return fmt::format("move {}'s flag by {:.3f} mm towards {}", r.what == Changed::switch_a ? "A" : "B",
                         mm(std::abs(r.by_m)), towards);
    case Changed::start_skew:
      return fmt::format("see to it that the search begins {:.3f} mm less racked", mm(r.by_m));
    case Changed::travel:
      return fmt::format("{:.3f} mm more travel, or a slower search", mm(r.by_m));
    case Changed::force:
      return fmt::format("find the stop with {:.0f} N less", r.by_m);
    case Changed::nothing:
      return "";
  }
  return "";
}

std::string recipe_text(const SearchProblem& p, const SearchPlan& plan) {
  if (!plan.possible) return "No search can be planned: " + plan.reason + ".";
  const SearchCase& way = plan.way;
  const char* lead = way.a_leads ? "A" : "B";
  if (p.reference == Reference::absolute) return "Absolute feedback: nothing is searched.";
  std::string text = fmt::format("Search towards {} at {:.0f} mm/s, {} leading", way.direction > 0 ? "+x" : "-x",
                                 mm(p.speed_m_per_s), lead);
  if (way.backs_off) text += fmt::format(", after running back to {}'s switch", lead);
  if (p.reference == Reference::distance_coded)
    return text + fmt::format("; run {:.3f} mm whatever is seen on the way.", mm(way.longest_run_m));
  if (p.controller == Controller::each_its_own) return text + "; each side stops at its own mark.";
  text += fmt::format("; end the move {:.3f} mm beyond {}'s mark", mm(way.overtravel_m), lead);
  if (way.beyond_first_m > way.overtravel_m + 1e-6)
    text += fmt::format(", which is up to {:.3f} mm beyond the first mark seen", mm(way.beyond_first_m));
  return text + ".";
}

}  // namespace evenbeam::homing
