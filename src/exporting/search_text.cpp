#include "exporting/search_text.h"

#include <fmt/format.h>

#include "exporting/structured_text.h"

namespace evenbeam::exporting {
namespace {

using homing::Controller;
using homing::Reference;
using homing::SearchRecipe;

// On top of the computed longest times: the loops come after their references (common practice, no source).
constexpr double kLoopsComeAfter_s = 0.25;

struct Parts {
  bool moves = true;       // absolute feedback stands still
  bool own_stop = false;   // each side stops at its own mark
  bool fixed_run = false;  // coded marks: the way is run whole
  bool edges = false;      // a switch arms
  bool takes_out_skew = false;
};

Parts parts_of(const SearchRecipe& r) {
  Parts p;
  p.moves = r.reference != Reference::absolute;
  p.fixed_run = r.reference == Reference::distance_coded;
  p.own_stop = !p.fixed_run && (r.controller == Controller::each_its_own || r.reference == Reference::hard_stop);
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
      return "the stop was felt by force while armed";
    default:
      return "the mark was latched while armed";
  }
}

constexpr const char* head =
    R"((* Reference search of a dual-drive gantry as structured text of IEC 61131-3. Machine: {}
   {}
   Homing methods of CiA 402 (object 6098h), from memory of the open profile, to be checked in the drive's manual:
     A: {}
     B: {}
   - Call once every {} s. Both loops are closed and both drives enabled before Start; the places are then taken over
     as they stand, so that nothing moves at the start.
   - PlaceA and PlaceB are the references of the two sides, raw since switch-on; both are given in the same cycle.
   - A mark is latched only while its Arm output is TRUE. Mark flags are FALSE before Start.
   - On any failure both sides are braked together and held; Reason says why. Where a drive is lost, Disable asks to
     switch off both at once.
   - After Done the place of a side is its raw position minus ZeroA or ZeroB.
   - The limits of travel, the following error and the emergency stop are watched outside of this program.
   - First run: nobody within reach of the bridge, force limit of both drives low, a hand on the stop. *)

)";

constexpr const char* interface_text = R"(PROGRAM GantrySearch
VAR_INPUT
  Start : BOOL;         (* its rising edge begins *)
  Halt : BOOL;          (* TRUE brakes and holds *)
  BothReady : BOOL;     (* both drives enabled, both loops closed *)
  PositionA : LREAL;    (* m, raw since switch-on *)
  PositionB : LREAL;
  MarkA : BOOL;         (* {} *)
  MarkB : BOOL;
  LatchA : LREAL;       (* m, raw place of the mark *)
  LatchB : LREAL;
{}END_VAR
VAR_OUTPUT
  PlaceA : LREAL;       (* m, reference of A, raw *)
  PlaceB : LREAL;
  ArmA : BOOL;
  ArmB : BOOL;
  ZeroA : LREAL;        (* m, raw place of A's zero, once Done *)
  ZeroB : LREAL;
  Done : BOOL;
  Failed : BOOL;
  Disable : BOOL;       (* switch off both drives at once *)
  Reason : DINT;        (* {} *)
  State : DINT;         (* 0 idle, 10 backing off, 20 to the marks, 30 beyond the first, 40 check, 50 taking out
                           skew, 60 there, 90 braking after a failure, 91 failed *)
END_VAR
)";

constexpr const char* local_text = R"(VAR
  Begin : R_TRIG;
  ArmedA, ArmedB : BOOL;
  BackLate, SearchLate, SkewLate : TON;
  SpeedA, SpeedB, WantedA, WantedB : LREAL;  (* m/s *)
  StartSkew, StartLead, Way, Beyond, Change, SkewNow : LREAL;  (* m *)
  Largest : LREAL;      (* m/s, change of speed in a cycle *)
END_VAR
Largest := Acceleration * Cycle;
Begin(CLK := Start);
IF Begin.Q AND (State = 0 OR State = 60 OR State = 91) THEN
  PlaceA := PositionA;
  PlaceB := PositionB;
  StartSkew := PositionA - PositionB;
  SpeedA := 0.0;
  SpeedB := 0.0;
  Done := FALSE;
  Failed := FALSE;
  Disable := FALSE;
  Reason := 0;
  State := {1};
  IF {2} THEN
    Reason := 10;
    State := 91;
  END_IF;
  StartLead := Place{0};
  ArmedA := FALSE;
  ArmedB := FALSE;
END_IF;
BackLate(IN := State = 10, PT := BackTimeOut);
SearchLate(IN := State = 20 OR State = 30, PT := SearchTimeOut);
SkewLate(IN := State = 50, PT := SkewTimeOut);
WantedA := 0.0;
WantedB := 0.0;
ArmA := FALSE;
ArmB := FALSE;
Way := Direction * (Place{0} - StartLead);
CASE State OF
)";

// {0} leading side, {1} other.
constexpr const char* back_text = R"(10: (* the other way, until the leading side's switch is made *)
  IF BackSwitch THEN
    IF SpeedA = 0.0 THEN
      StartLead := Place{0};
      State := 20;
    END_IF;
  ELSE
    WantedA := -Direction * SearchSpeed;
    WantedB := -Direction * SearchSpeed;
    IF BackLate.Q THEN
      Reason := 3;
    END_IF;
  END_IF;
)";

constexpr const char* one_command_text = R"(20: (* both follow one move; armed at full speed *)
  WantedA := Direction * SearchSpeed;
  WantedB := WantedA;
  ArmedA := {2};
  ArmedB := {3};
  ArmA := ArmedA AND NOT MarkA;
  ArmB := ArmedB AND NOT MarkB;
  IF Mark{0} THEN
    State := 30;
  ELSIF Way > LongestRun - OverTravel + SearchSpeed * Cycle THEN
    Reason := 5;
  ELSIF SearchLate.Q THEN
    Reason := 4;
  END_IF;
30: (* on beyond the leading side's mark, so far that the other's is seen from every start *)
  ArmedA := {2};
  ArmedB := {3};
  ArmA := ArmedA AND NOT MarkA;
  ArmB := ArmedB AND NOT MarkB;
  Beyond := Direction * (Position{0} - Latch{0});
  IF Beyond < OverTravel - SpeedA * SpeedA / (2.0 * Acceleration) THEN
    WantedA := Direction * SearchSpeed;
    WantedB := WantedA;
  ELSIF SpeedA = 0.0 THEN
    State := 40;
  END_IF;
  IF SearchLate.Q THEN
    Reason := 4;
  END_IF;
)";

constexpr const char* own_stop_text = R"(20: (* each side runs to its own mark and stops there *)
  ArmedA := {2};
  ArmedB := {3};
  ArmA := ArmedA AND NOT MarkA;
  ArmB := ArmedB AND NOT MarkB;
  IF NOT MarkA THEN
    WantedA := Direction * SearchSpeed;
  END_IF;
  IF NOT MarkB THEN
    WantedB := Direction * SearchSpeed;
  END_IF;
  IF MarkA AND MarkB AND SpeedA = 0.0 AND SpeedB = 0.0 THEN
    State := 40;
  ELSIF Way > LongestRun - SearchSpeed * SearchSpeed / (2.0 * Acceleration) + SearchSpeed * Cycle THEN
    Reason := SEL(MarkA, {4}, {5});
  ELSIF SearchLate.Q THEN
    Reason := 4;
  END_IF;
)";

constexpr const char* fixed_run_text = R"(20: (* a fixed way, on which each side meets two marks *)
  ArmedA := {2};
  ArmedB := {3};
  ArmA := ArmedA AND NOT MarkA;
  ArmB := ArmedB AND NOT MarkB;
  IF Way < LongestRun - SpeedA * SpeedA / (2.0 * Acceleration) THEN
    WantedA := Direction * SearchSpeed;
    WantedB := WantedA;
  ELSIF SpeedA = 0.0 THEN
    State := 40;
  END_IF;
  IF SearchLate.Q THEN
    Reason := 4;
  END_IF;
)";

constexpr const char* end_text = R"(40: (* standing: both seen, and the right ones? *)
  IF NOT Mark{0} THEN
    Reason := 5;
  ELSIF NOT Mark{1} THEN
    Reason := 6;
  ELSIF LatchA - LatchB < LeastLatchDifference OR LatchA - LatchB > LargestLatchDifference THEN
    Reason := 8;
  ELSE
    ZeroA := LatchA - OffsetA;
    ZeroB := LatchB - OffsetB;
    State := {2};
  END_IF;
{3}60:
  Done := TRUE;
91:
  Failed := TRUE;
END_CASE;
(* the watches *)
IF State >= 10 AND State < 60 THEN
  IF Halt THEN
    Reason := 1;
  ELSIF NOT BothReady THEN
    Reason := 2;
    Disable := TRUE;
{4}  END_IF;
  IF Reason <> 0 THEN
    State := 90;
    WantedA := 0.0;
    WantedB := 0.0;
    ArmA := FALSE;
    ArmB := FALSE;
  END_IF;
END_IF;
(* the references of this cycle *)
SpeedA := SpeedA + LIMIT(-Largest, WantedA - SpeedA, Largest);
SpeedB := SpeedB + LIMIT(-Largest, WantedB - SpeedB, Largest);
PlaceA := PlaceA + SpeedA * Cycle;
PlaceB := PlaceB + SpeedB * Cycle;
IF State = 90 AND SpeedA = 0.0 AND SpeedB = 0.0 THEN
  State := 91;
  Failed := TRUE;
END_IF;
END_PROGRAM
)";

constexpr const char* skew_text = R"(50: (* the skew goes slowly to what is wanted, both sides half each *)
  SkewNow := (PlaceA - ZeroA) - (PlaceB - ZeroB);
  Change := LIMIT(-SkewRate * Cycle, EndSkew - SkewNow, SkewRate * Cycle);
  PlaceA := PlaceA + 0.5 * Change;
  PlaceB := PlaceB - 0.5 * Change;
  IF ABS(EndSkew - SkewNow) < 0.000000001 THEN
    State := 60;
  ELSIF SkewLate.Q THEN
    Reason := 9;
  END_IF;
)";

// On the way the skew may stray from where it started; while it is taken out, from its reference.
constexpr const char* skew_watch =
    R"(  ELSIF State < 40 AND ABS(PositionA - PositionB - StartSkew) > LargestSkewChange THEN
    Reason := 7;
  ELSIF State >= 40 AND ABS(PositionA - PositionB - (PlaceA - PlaceB)) > LargestSkewChange THEN
    Reason := 7;
)";

std::string constant(const char* name, double value, const char* meaning) {
  return fmt::format("  {} : LREAL := {};  (* {} *)\n", name, real_literal(value), meaning);
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
  text += fmt::format("  BackTimeOut : TIME := {};\n  SearchTimeOut : TIME := {};\n  SkewTimeOut : TIME := {};\n",
                      time_literal(r.back_off_time_out_s + kLoopsComeAfter_s),
                      time_literal(r.search_time_out_s + kLoopsComeAfter_s),
                      time_literal(r.skew_time_out_s + kLoopsComeAfter_s));
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

// When a side's latch is armed: at full speed; where a switch arms, once it is made. It stays so while braking.
std::string armed(const Parts& p, bool edge_shared, const char* side, const char* lead) {
  if (p.edges) return fmt::format("Armed{0} OR Edge{1}", side, edge_shared ? lead : side);
  return fmt::format("Armed{0} OR ABS(Speed{0}) >= 0.999 * SearchSpeed", side);
}

std::string search_states(const Parts& p, const SearchRecipe& r, bool edge_shared, const char* lead,
                          const char* other) {
  const std::string arm_a = armed(p, edge_shared, "A", lead), arm_b = armed(p, edge_shared, "B", lead);
  std::string text;
  if (p.moves && r.backs_off) text += fmt::format(back_text, lead);
  if (!p.moves) return text;
  if (p.fixed_run) return text + fmt::format(fixed_run_text, lead, other, arm_a, arm_b);
  if (p.own_stop) {
    const bool a_leads = *lead == 'A';  // Reason: 5 the leading side's mark, 6 the other's
    return text + fmt::format(own_stop_text, lead, other, arm_a, arm_b, a_leads ? 5 : 6, a_leads ? 6 : 5);
  }
  return text + fmt::format(one_command_text, lead, other, arm_a, arm_b);
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
  const int first = !p.moves ? 40 : r.backs_off ? 10 : 20;
  const std::string stale = p.moves ? "NOT BothReady OR MarkA OR MarkB" : "NOT BothReady";
  std::string text = fmt::format(head, comment_text(machine.name.empty() ? "unnamed" : machine.name),
                                 comment_text(r.words), method_text(r.method_a), method_text(r.method_b), cycle_s);
  text += fmt::format(interface_text, what_is_seen(r.reference), inputs, reasons_text());
  text += constants(r, cycle_s) + fmt::format(local_text, lead, first, stale);
  text += search_states(p, r, machine.homing.edge_shared, lead, other);
  text += fmt::format(end_text, lead, other, p.takes_out_skew ? 50 : 60, p.takes_out_skew ? skew_text : "",
                      r.largest_skew_change_m > 0 ? skew_watch : "");
  return {.text = text, .lacking = ""};
}

}  // namespace evenbeam::exporting
