// The capture to make, fitted to this job: its level, its moves, the commands that lead to it, what to mind before.
#include <fmt/format.h>

#include "acceptance/move_plan.h"
#include "rehearsal/session.h"
#include "report/cautions.h"
#include "units/unit.h"
#include "workflow/next_step_parts.h"

namespace evenbeam::workflow {
namespace {

// The level and time of an open-loop push come from `limits` or are unknown; they are never made up.
CaptureSheet with_push_limits(CaptureSheet sheet, const Evaluation& evaluation) {
  const auto level = number_of(evaluation, "limits", "push_level");
  const auto time = number_of(evaluation, "limits", "push_time_s");
  const auto force = number_of(evaluation, "limits", "push_force_n");
  if (!level || !time) {
    sheet.level = "unknown: `limits` has not found a safe push; state [guides] and peak_force in machine.toml first";
    return sheet;
  }
  sheet.level = fmt::format("at most {:.2g} % of peak force", *level * 100);
  if (force)
    sheet.level += fmt::format(" ({})", units::print_quantity(*force, "N", evaluation.machine.force_unit, 2));
  sheet.duration = fmt::format(
      "each push {:.2g} ms at most, each rest 0.5 s at least, 0.2 s of standstill before the first", *time * 1000);
  return sheet;
}

// The machine's own moves at the places that their proof asks for, where machine.toml states them.
CaptureSheet with_planned_moves(CaptureSheet sheet, const machine::Machine& machine) {
  const std::vector<acceptance::WantedMove> plan = acceptance::move_plan(machine, {});
  if (!plan.empty())
    sheet.move = "Loops closed with the settings to be proved, there and back at least twice: " +
                 acceptance::plan_in_words(plan);
  return sheet;
}

std::string side_words(rehearsal::Goes goes, bool commanding_is_a) {
  switch (goes) {
    case rehearsal::Goes::both:
      return "both sides";
    case rehearsal::Goes::either:
      return "either side";
    case rehearsal::Goes::commanding_side:
      return commanding_is_a ? "A alone" : "B alone";
    case rehearsal::Goes::refused:
      break;
  }
  return "no side";
}

// From off to the capture's operation, command by command, as the job's table has them; where the table refuses it
// everywhere, its reason and what to do instead.
std::vector<std::string> commands_to(const CaptureSheet& sheet, const rehearsal::RuleTable& rules) {
  if (!sheet.operation) return {};
  std::vector<std::string> list;
  for (const rehearsal::Judged& step : rehearsal::way_to(rules, {}, *sheet.operation, sheet.in))
    list.push_back(
        fmt::format("{}: {}", to_text(step.step.operation), side_words(step.rule.goes, rules.commanding_side_is_a)));
  if (!list.empty()) return list;
  for (const rehearsal::PairState state : sheet.in) {
    const rehearsal::Rule& rule = rehearsal::rule(rules, *sheet.operation, state);
    if (rule.goes != rehearsal::Goes::refused) continue;
    list.push_back(fmt::format("{} in {} is refused: {} {}", to_text(*sheet.operation), to_text(state), rule.reason,
                               rule.instead));
  }
  if (list.empty())
    list.push_back(fmt::format("the table of rules leaves no way to {} in {}: correct rehearsal.toml",
                               to_text(*sheet.operation), to_text(sheet.in.front())));
  return list;
}

}  // namespace

std::vector<std::string> cautions_before_motion(const Evaluation& evaluation) {
  std::vector<std::string> list;
  const base::StationResult* ready = find_station(evaluation, "ready");
  if (ready == nullptr || ready->verdict == base::Verdict::not_done)
    list.emplace_back(
        "Nobody has shown it fit to be moved: check mechanics, wiring, end switches and brakes of both sides by "
        "hand, drives off and locked out, before anything moves.");
  for (const report::Caution& caution : report::cautions())
    list.push_back(fmt::format("{} {}", caution.head, caution.text));
  return list;
}

NextStep capture_for(const Station& station, const Evaluation& evaluation, const base::StationResult& result) {
  NextStep step{.kind = NextStep::Kind::make_capture, .station = station.name};
  step.capture = station.name == "nudge"   ? with_push_limits(station.capture, evaluation)
                 : station.name == "prove" ? with_planned_moves(station.capture, evaluation.machine)
                                           : station.capture;
  const base::Finding* finding = result.findings.empty() ? nullptr : &result.findings.front();
  step.what = step.capture->move + ".";
  step.commands = commands_to(station.capture, evaluation.rules);
  step.why = finding != nullptr ? finding->text : station.question;
  if (station.capture.level != "none") step.cautions = cautions_before_motion(evaluation);
  return step;
}

}  // namespace evenbeam::workflow
