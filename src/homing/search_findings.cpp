#include "homing/search_findings.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace evenbeam::homing {
namespace {

using base::Finding;
using base::Verdict;

double mm(double metres) { return 1e3 * metres; }

std::string range_text(const SearchProblem& p) {
  return fmt::format(
      "every start from {:.1f} to {:.1f} mm (middle of the bridge, from A's mark), racked {:.3f} to {:.3f} "
      "mm off free",
      mm(p.start_m.low), mm(p.start_m.high), mm(p.start_skew_m.low), mm(p.start_skew_m.high));
}

std::string source_text(const SearchRequest& r) {
  std::string text = "least value of every margin over the whole range, exact";
  if (!r.assumed.empty()) text += fmt::format("; assumed: {}", fmt::join(r.assumed, "; "));
  return text;
}

Finding impossible(const SearchRequest& r, const std::string& reason) {
  const std::string what = r.missing.empty() ? reason : fmt::format("{}", fmt::join(r.missing, "; "));
  return {.id = "search_recipe",
          .verdict = Verdict::not_done,
          .text = "No search can be promised yet. Not known: " + what + ".",
          .next = "State it in machine.toml, table [homing]."};
}

// The rule of the trade that this plan is a case of.
std::string rule_text(const SearchProblem& p, const SearchPlan& plan) {
  if (p.controller != Controller::one_command || p.reference == Reference::absolute ||
      p.reference == Reference::distance_coded || p.reference == Reference::hard_stop)
    return "";
  const SearchCase& way = plan.way;
  const double stop =
      p.speed_m_per_s * p.speed_m_per_s / 2 / p.acceleration_m_per_s2 + p.speed_m_per_s * p.latch_delay_s.high;
  const char* lead = way.a_leads ? "A" : "B";
  const char* other = way.a_leads ? "B" : "A";
  if (way.overtravel_m > stop + 1e-6)
    return fmt::format(" {}'s mark can come first, so the move is prolonged until {}'s is seen.", lead, other);
  return fmt::format(
      " {}'s mark always comes before {}'s, so the start is set back far enough for it and the move ends "
      "as soon as it can stop.",
      other, lead);
}

Finding promised(const SearchRequest& r, const SearchPlan& plan, const Marks& seen) {
  const SearchProblem& p = r.problem;
  Finding f{.id = "search_recipe", .verdict = Verdict::pass, .value = plan.way.beyond_first_m, .unit = "m"};
  const bool stops = p.reference == Reference::hard_stop;
  f.text = recipe_text(p, plan) + rule_text(p, plan);
  if (p.reference != Reference::absolute && plan.way.start_before_first_m > 0)
    f.text += fmt::format(" Start at least {:.3f} mm before the first {}.", mm(plan.way.start_before_first_m),
                          stops ? "stop" : "mark");
  f.text += fmt::format(" {} from {}; {:.3f} mm are left. It takes at most {:.1f} s: stop after that.",
                        stops ? "Both stops are then found" : "Both marks are then seen, and the right ones,",
                        range_text(p), mm(plan.way.least_margin), plan.longest_s);
  if (reach_is_promised(p))
    f.text += fmt::format(" Of the force that finds the stops {:.0f} N are left.", plan.way.least_force_n);
  if (stops && !reach_is_promised(p)) {
    f.verdict = Verdict::attention;
    f.text +=
        " Whether the force reaches both stops is not promised: a side that stays short takes that for its stop.";
    f.next =
        "Record test moves with outputs, so that friction, stiffness and mass are fitted, and state stop_force; "
        "until then watch both sides to their stops, nobody within reach of the bridge.";
  }
  f.source = source_text(r);
  for (const SearchRun& run : seen.runs)
    if (run.both_seen && f.recording.empty()) f.recording = run.name, f.from_s = run.from_s, f.to_s = run.to_s;
  return f;
}

std::string start_text(const FailingStart& s) {
  return fmt::format("the middle of the bridge {:.3f} mm from A's mark, racked {:.3f} mm", mm(s.mean_m),
                     mm(s.skew_m));
}

bool endangers(Promise promise) {
  return promise == Promise::skew || promise == Promise::end_skew || in_newtons(promise) ||
         promise == Promise::travel || promise == Promise::no_slip_lead || promise == Promise::no_slip_other;
}

Finding broken(const SearchRequest& r, const SearchPlan& plan, const SearchTrouble& trouble) {
  Finding f{.id = "search_can_fail", .verdict = Verdict::attention, .value = trouble.short_by};
  f.unit = in_newtons(trouble.promise) ? "N" : "m";
  // A range that was only taken for granted stops nobody.
  if (endangers(trouble.promise) && r.assumed.empty()) f.verdict = Verdict::stop;
  f.text = fmt::format("The search can fail: not so that {}. It fails from {}, by {}. ", to_text(trouble.promise),
                       start_text(trouble.start),
                       in_newtons(trouble.promise) ? fmt::format("{:.0f} N", trouble.short_by)
                                                   : fmt::format("{:.3f} mm", mm(trouble.short_by)));
  std::vector<std::string> repairs;
  for (const Repair& repair : plan.repairs) repairs.push_back(repair_text(repair, plan.way.a_leads));
  f.text += fmt::format("Best way found: {}", recipe_text(r.problem, plan));
  f.source = source_text(r);
  if (plan.repairs_suffice)
    f.next = fmt::format("Smallest change that repairs it, tried: {}.", fmt::join(repairs, "; and "));
  else if (r.problem.reference == Reference::hard_stop)
    f.next =
        "No single change repairs it: no force both finds these stops and spares the guides. Set the stops where "
        "both sides meet them free, free what rubs, or search for marks instead.";
  else
    f.next =
        "No single change repairs it: narrow the range of starts and of start skew, or arm the marks by a switch.";
  if (plan.slip_seen_by_arithmetic)
    f.next += " A slip shows: the latches then differ by a whole pitch from what is possible; refuse that search.";
  return f;
}

}  // namespace

std::vector<Finding> search_findings(const SearchRequest& r, const SearchPlan& plan, const Marks& seen) {
  if (!r.possible || !plan.possible) return {impossible(r, plan.reason)};
  if (plan.promised) return {promised(r, plan, seen)};
  return {broken(r, plan, worst_trouble(plan))};
}

}  // namespace evenbeam::homing
