// The plan in sentences.
#include <fmt/format.h>

#include <cmath>

#include "homing/search_plan.h"

namespace evenbeam::homing {
namespace {

double mm(double m) { return 1e3 * m; }

}  // namespace

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
    case Promise::end_skew:
      return "the skew stays within what guides and mountings take where each side stands at its own mark or stop";
    case Promise::moves_bridge:
      return "both drives together move the bridge at the force that finds the stops";
    case Promise::reaches_stop_lead:
      return "the leading side goes on to its stop by itself, against friction and guides, the other at its own";
    case Promise::reaches_stop_other:
      return "the other side goes on to its stop by itself, against friction and guides, the leading one at its own";
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
      return fmt::format("find the stops with {:.0f} N {}", std::ceil(std::abs(r.by_m)),
                         r.by_m > 0 ? "less" : "more");
    case Changed::mark_a:
    case Changed::mark_b:
      return fmt::format("move the mark or stop of {} by {:.3f} mm towards {}", r.what == Changed::mark_a ? "A" : "B",
                         mm(std::abs(r.by_m)), towards);
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
  if (p.reference == Reference::hard_stop)
    return text + fmt::format("; each side until it stands at its stop{}.",
                              p.stop_force_n ? fmt::format(", with at most {:.0f} N", *p.stop_force_n) : "");
  if (p.controller == Controller::each_its_own) return text + "; each side stops at its own mark.";
  text += fmt::format("; end the move {:.3f} mm beyond {}'s mark", mm(way.overtravel_m), lead);
  if (way.beyond_first_m > way.overtravel_m + 1e-6)
    text += fmt::format(", which is up to {:.3f} mm beyond the first mark seen", mm(way.beyond_first_m));
  return text + ".";
}

}  // namespace evenbeam::homing
