#include "exporting/search_text.h"

#include <fmt/format.h>

#include <cmath>
#include <string_view>

#include "exporting/search_text_parts.h"
#include "exporting/structured_text.h"

namespace evenbeam::exporting {
namespace {

using homing::Controller;
using homing::kPressing_m;  // a reference may run ahead of a side held by a stop
using homing::Reference;
using homing::SearchRecipe;
using namespace search_parts;

// On top of the computed longest times: the loops come after their references (common practice, no source).
constexpr double kLoopsComeAfter_s = 0.25;
using homing::kPressing_m;               // a reference may run ahead of a side held by a stop
constexpr double kClearOfStop_m = 2e-3;  // beyond half the skew to be taken out; common practice, no source

struct Parts {
  bool moves = true;       // absolute feedback stands still
  bool own_stop = false;   // each side stops at its own mark
  bool fixed_run = false;  // coded marks: the way is run whole
  bool edges = false;      // a switch arms
  bool wall = false;       // the stop holds the side; its force is limited, and it backs away before anything else
  bool takes_out_skew = false;
};

Parts parts_of(const SearchRecipe& r) {
  Parts p;
  p.moves = r.reference != Reference::absolute;
  p.fixed_run = r.reference == Reference::distance_coded;
  p.wall = r.reference == Reference::hard_stop;
  p.own_stop = !p.fixed_run && (r.controller == Controller::each_its_own || p.wall);
  p.edges = r.reference == Reference::switch_and_mark;
  p.takes_out_skew = r.skew_rate_m_per_s > 0 && r.skew_time_out_s > 0;
  return p;
}

const char* what_is_seen(Reference reference) {
  switch (reference) {
    case Reference::distance_coded:
      return "two neighbouring coded marks were read";
    case Reference::absolute:
      return "the absolute position is valid";
    case Reference::switch_only:
      return "the switch was made while armed";
    case Reference::hard_stop:
      return "at the stop: force at its limit and the side at rest for 20 ms, while armed";
    default:
      return "the mark was latched while armed";
  }
}

std::string constant(const char* name, double value, const char* meaning) {
  return fmt::format("  {} : LREAL := {};  (* {} *)\n", name, real_literal(value), meaning);
}

// From the stops until the skew can be taken out without touching them.
double away_from_stop_m(const SearchRecipe& r) {
  return std::abs(r.home_offset_a_m - r.home_offset_b_m - r.end_skew_m) / 2 + kClearOfStop_m;
}

std::string constants(const SearchRecipe& r, double cycle_s) {
  std::string text =
      "VAR CONSTANT\n" + constant("Cycle", cycle_s, "s, the task's interval") +
      constant("Direction", r.direction, "of the search along x") + constant("SearchSpeed", r.speed_m_per_s, "m/s") +
      constant("Acceleration", r.acceleration_m_per_s2, "m/s^2") +
      constant("OverTravel", r.overtravel_m, "m, of the leading side beyond its mark until it stands") +
      constant("LongestRun", r.longest_run_m, "m, no search that succeeds goes further") +
      constant("LeastLatchDifference", r.latch_difference_m.low, "m, latch A - latch B") +
      constant("LargestLatchDifference", r.latch_difference_m.high, "m, outside: a wrong mark") +
      constant("OffsetA", r.home_offset_a_m, "m, place of A where it stands on its mark") +
      constant("OffsetB", r.home_offset_b_m, "m") + constant("EndSkew", r.end_skew_m, "m, of A - B after homing") +
      constant("SkewRate", r.skew_rate_m_per_s, "m/s, 0.0 = the skew is left as it is");
  if (r.largest_skew_change_m > 0)
    text += constant("LargestSkewChange", r.largest_skew_change_m, "m, from where the search started");
  if (parts_of(r).own_stop) {
    // A mark lies where braking begins at the latest; a reference runs ahead of the side that presses on a stop.
    const double beyond = r.reference == Reference::hard_stop
                              ? -kPressing_m
                              : r.speed_m_per_s * r.speed_m_per_s / (2 * r.acceleration_m_per_s2);
    text +=
        constant("LongestWay", r.longest_run_m - beyond, "m, of the leading side until its mark or stop is found") +
        constant("LongestOther", r.longest_other_m - beyond, "m, of the other side");
  }
  double search_time_out_s = r.search_time_out_s + kLoopsComeAfter_s;
  double skew_time_out_s = r.skew_time_out_s + kLoopsComeAfter_s;
  if (r.reference == Reference::hard_stop) {
    search_time_out_s += kPressing_m / r.speed_m_per_s;
    text += constant("MovedOff", homing::kMovedOff_m, "m, a side that has not gone so far has found no stop");
    const double away = away_from_stop_m(r);
    text += constant("AwayFromStop", away, "m, back from the stops before the skew is taken out");
    skew_time_out_s += away / r.speed_m_per_s + 2 * r.speed_m_per_s / r.acceleration_m_per_s2;
  }
  text += fmt::format("  BackTimeOut : TIME := {};\n  SearchTimeOut : TIME := {};\n  SkewTimeOut : TIME := {};\n",
                      time_literal(r.back_off_time_out_s + kLoopsComeAfter_s), time_literal(search_time_out_s),
                      time_literal(skew_time_out_s));
  return text + "END_VAR\n";
}

std::string reasons_text() {
  std::string text;
  for (size_t i = 1; i < search_reasons().size(); ++i)
    text += fmt::format("{}{} {}", i == 1 ? "" : ",\n                           ", i, search_reasons()[i]);
  return text;
}

std::string method_text(const homing::DriveMethod& method) {
  return comment_text(method.number != 0 ? fmt::format("{}, {}", method.number, method.why)
                                         : "none fits: " + method.why);
}

// When a side's latch is armed: at full speed; where a switch arms, once it is made; against a stop, once the side
// itself has moved off, so that one which sticks is not taken for one that has arrived. It stays so while braking.
std::string armed(const Parts& p, bool edge_shared, const char* side, const char* lead) {
  if (p.edges) return fmt::format("Armed{0} OR Edge{1}", side, edge_shared ? lead : side);
  if (p.wall)
    return fmt::format("Armed{0} OR Direction * (Position{0} - Start{1}) >= MovedOff", side,
                       std::string_view(side) == lead ? "Lead" : "Other");
  return fmt::format("Armed{0} OR ABS(Speed{0}) >= 0.999 * SearchSpeed", side);
}

std::string search_states(const Parts& p, const SearchRecipe& r, bool edge_shared, const char* lead,
                          const char* other) {
  std::string text;
  if (p.moves) text = fmt::format(arm_text, armed(p, edge_shared, "A", lead), armed(p, edge_shared, "B", lead));
  text += "CASE State OF\n";
  if (p.moves && r.backs_off) text += fmt::format(back_text, lead, other);
  if (!p.moves) return text;
  if (p.fixed_run) return text + fmt::format(fixed_run_text, lead, other);
  if (p.own_stop) return text + fmt::format(own_stop_text, lead, other, p.wall ? wall_text : "");
  return text + fmt::format(one_command_text, lead, other);
}

}  // namespace

const std::vector<std::string>& search_reasons() {
  static const std::vector<std::string> words{"none",
                                              "halted by hand",
                                              "a drive was lost or not ready",
                                              "time-out of backing off",
                                              "time-out of the search",
                                              "the leading side's mark was not seen",
                                              "the other side's mark was not seen",
                                              "the skew strayed too far",
                                              "the latches do not fit: a slipped pitch or a wrong mark",
                                              "time-out of taking out the skew",
                                              "not ready, or a mark flag was set already"};
  return words;
}

SearchText search_text(const SearchRecipe& r, const machine::Machine& machine, double cycle_s) {
  if (!r.known) return {.text = "", .lacking = "No search program: " + r.reason};
  if (!r.promised)
    return {.text = "",
            .lacking = "No search program, because the search can fail: " + (r.reason.empty() ? r.words : r.reason)};
  const Parts p = parts_of(r);
  const char *lead = r.a_leads ? "A" : "B", *other = r.a_leads ? "B" : "A";
  std::string inputs;
  if (p.edges) inputs += "  EdgeA : BOOL;         (* the switch that arms A is made *)\n  EdgeB : BOOL;\n";
  if (r.backs_off && p.moves)
    inputs += "  BackSwitch : BOOL;    (* the leading side's switch for backing off is made *)\n";
  std::string outputs;
  if (p.wall)
    outputs = "  LimitForce : BOOL;    (* TRUE: the force of each drive is limited to what finds the stop" +
              (r.stop_force_n > 0 ? fmt::format(", {:.0f} N", r.stop_force_n) : "") + " *)\n";
  const int first = !p.moves ? 40 : r.backs_off ? 10 : 20;
  const std::string stale = p.moves ? "NOT BothReady OR MarkA OR MarkB" : "NOT BothReady";
  std::string text = fmt::format(head, comment_text(machine.name.empty() ? "unnamed" : machine.name),
                                 comment_text(r.words), method_text(r.method_a), method_text(r.method_b), cycle_s);
  text += fmt::format(interface_text, what_is_seen(r.reference), inputs, outputs, reasons_text());
  text += constants(r, cycle_s) + fmt::format(local_text, lead, first, stale, other);
  text += search_states(p, r, machine.homing.edge_shared, lead, other);
  const int then = p.takes_out_skew ? 50 : 60;
  text += fmt::format(end_text, lead, other, p.wall ? 45 : then,
                      (p.wall ? fmt::format(away_text, lead, then) : "") + (p.takes_out_skew ? skew_text : ""),
                      r.largest_skew_change_m > 0 ? skew_watch : "",
                      p.wall ? "LimitForce := State >= 10 AND State < 50 OR State > 60;\n" : "");
  return {.text = text, .lacking = ""};
}

}  // namespace evenbeam::exporting
