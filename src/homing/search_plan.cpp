#include "homing/search_plan.h"

#include <algorithm>
#include <cmath>

#include "homing/search_repair.h"

namespace evenbeam::homing {
namespace {

bool ordered(const Interval& i) { return std::isfinite(i.low) && std::isfinite(i.high) && i.low <= i.high; }

// What keeps the problem from being one; empty where nothing does.
std::string lacking(const SearchProblem& p) {
  for (const Interval& i :
       {p.a.mark_m, p.b.mark_m, p.a.edge_m, p.b.edge_m, p.start_m, p.start_skew_m, p.latch_delay_s, p.travel_m})
    if (!ordered(i)) return "a range is turned round or not finite";
  if (!(p.speed_m_per_s > 0) || !(p.acceleration_m_per_s2 > 0)) return "search speed and deceleration are needed";
  if (p.reference == Reference::hard_stop && p.speed_m_per_s < 2 * kAtRest_m / kAtRest_s)
    return "so slow a search cannot tell a side that stands from one that moves: 1 mm/s at least";
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
    if (x.holds() != y.holds()) return x.holds();
    return x.holds() ? x.longest_run_m < y.longest_run_m - 1e-12 : x.least_margin > y.least_margin + 1e-12;
  });
}

void shift(Interval& i, double by) { i.low += by, i.high += by; }

}  // namespace

const SearchTrouble& worst_trouble(const SearchPlan& plan) {
  return *std::max_element(plan.troubles.begin(), plan.troubles.end(), [](const auto& x, const auto& y) {
    const bool force_x = in_newtons(x.promise), force_y = in_newtons(y.promise);
    return force_x != force_y ? force_y : x.short_by < y.short_by;
  });
}

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
    case Changed::mark_a:
      shift(p.a.mark_m, repair.by_m);
      break;
    case Changed::mark_b:
      shift(p.b.mark_m, repair.by_m);
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
  plan.promised = plan.way.holds();
  plan.longest_s = std::max(plan.way.longest_run_m, plan.way.longest_other_m) / p.speed_m_per_s +
                   2 * p.speed_m_per_s / p.acceleration_m_per_s2;
  if (plan.way.backs_off) {
    // From the furthest start to the switch, and what it takes to stop beyond.
    const double skew = std::max(std::abs(p.start_skew_m.low), std::abs(p.start_skew_m.high)) / 2;
    const double furthest = plan.way.direction > 0 ? p.start_m.high : -p.start_m.low;
    const double way = std::max(0.0, furthest + skew - plan.way.box[kStart].low);
    plan.longest_back_off_s = way / p.speed_m_per_s + 2 * p.speed_m_per_s / p.acceleration_m_per_s2;
  }
  const double gives = p.reference == Reference::hard_stop ? plan.way.box[kGiveLead].high : 0;
  const double hold = 2 * p.hold_error_m + gives;
  plan.latch_difference_m = {p.a.mark_m.low - p.b.mark_m.high - p.start_skew_m.high - hold,
                             p.a.mark_m.high - p.b.mark_m.low - p.start_skew_m.low + hold};
  plan.slip_seen_by_arithmetic = p.pitch_m && plan.latch_difference_m.high - plan.latch_difference_m.low < *p.pitch_m;
  if (!plan.promised) find_troubles(p, plan);
  return plan;
}

}  // namespace evenbeam::homing
