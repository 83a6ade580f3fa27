#include "workflow/next_step.h"

#include <fmt/format.h>

#include <algorithm>

#include "acceptance/move_plan.h"
#include "base/program_fault.h"
#include "rehearsal/session.h"
#include "report/cautions.h"
#include "units/unit.h"
#include "workflow/gates.h"

namespace evenbeam::workflow {
namespace {

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

const base::Finding* first_with(const base::StationResult& station, base::Verdict verdict) {
  for (const base::Finding& finding : station.findings)
    if (finding.verdict == verdict) return &finding;
  return nullptr;
}

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

NextStep answer(NextStep::Kind kind, const Evaluation& evaluation, const base::StationResult& station,
                const std::vector<Station>& line) {
  const bool stopped = kind == NextStep::Kind::answer_stop;
  NextStep step{.kind = kind, .station = station.name};
  const base::Finding* finding = first_with(station, stopped ? base::Verdict::stop : base::Verdict::attention);
  if (finding != nullptr) step.why = finding->text;
  step.what = finding != nullptr && !finding->next.empty()
                  ? finding->next
                  : fmt::format("Settle the {} of `{}`.", base::to_text(station.verdict), station.name);
  if (!stopped) return step;
  for (const Station& other : line) {
    const std::vector<std::string> holding = held_by(other.name, evaluation, line);
    if (std::find(holding.begin(), holding.end(), station.name) != holding.end())
      step.holds_back.push_back(other.name);
  }
  return step;
}

NextStep report_of(const base::StationResult& station) {
  const base::Finding& fault = *base::program_fault(station);
  return {.kind = NextStep::Kind::report_fault, .station = station.name, .what = fault.next, .why = fault.text};
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

// When a station is asked for. A machine that has moved is not sent back to an empty check sheet before what it was
// asked for; squareness does not hold up a machine that is recorded to home free.
enum class Turn { own, after_the_others, after_all_attention };

Turn turn_of(const Station& station, const Evaluation& evaluation) {
  const auto moved = [](const recording::Recording& r) {
    return r.kind != recording::RunKind::one_side && r.kind != recording::RunKind::standstill;
  };
  if (station.name == "ready" && std::any_of(evaluation.recordings.begin(), evaluation.recordings.end(), moved))
    return Turn::after_all_attention;
  const bool free = station.name == "square" && evaluation.machine.home_attitude == "free";
  return free ? Turn::after_the_others : Turn::own;
}

// Whether its own capture would settle it: not where a fault of the program keeps it unknown.
bool is_open(const Station& station, const Evaluation& evaluation) {
  const base::StationResult* result = find_station(evaluation, station.name);
  return station.answer != nullptr && result != nullptr && result->verdict == base::Verdict::not_done &&
         !base::unknown_by_fault(*result);
}

// What a capture waits for is answered first; a need that this version cannot answer is left to the cautions.
bool needs_are_answered(const Station& station, const Evaluation& evaluation, const std::vector<Station>& line) {
  if (!unknown_above(station.name, evaluation, line).empty()) return false;
  return std::none_of(line.begin(), line.end(), [&](const Station& other) {
    const bool needed = std::find(station.needs.begin(), station.needs.end(), other.name) != station.needs.end();
    return needed && is_open(other, evaluation) && turn_of(other, evaluation) != Turn::after_all_attention;
  });
}

// Captures that nobody can read are made in vain: before the next one is asked for, those at hand are read. A table
// that lacks units alone is one of them; of other files up to half may belong to something else.
bool captures_wait_to_be_read(const Evaluation& evaluation) {
  const base::StationResult* recordings = find_station(evaluation, "recordings");
  if (recordings == nullptr) return false;
  const auto count = [&](const char* beginning) {
    return std::count_if(recordings->findings.begin(), recordings->findings.end(),
                         [&](const base::Finding& f) { return f.id.starts_with(beginning); });
  };
  if (count("unread_for_units_") > 0) return true;
  const auto unread = count("unread_");
  return unread > 0 && static_cast<std::size_t>(unread) >= evaluation.recordings.size();
}

// An open-loop push without a known safe level waits for `limits`, whatever its verdict.
NextStep push_or_its_level(const Station& nudge, const Evaluation& evaluation, const std::vector<Station>& line) {
  const base::StationResult* limits = find_station(evaluation, "limits");
  const bool known = number_of(evaluation, "limits", "push_level") && number_of(evaluation, "limits", "push_time_s");
  if (!known && limits != nullptr && limits->verdict == base::Verdict::attention)
    return answer(NextStep::Kind::answer_attention, evaluation, *limits, line);
  return capture_for(nudge, evaluation, *find_station(evaluation, nudge.name));
}

}  // namespace

namespace {

NextStep asked_for(const Evaluation& evaluation, const std::vector<Station>& line) {
  if (has_open_stop(evaluation, "recordings"))  // what is read comes before what is asked of it
    return answer(NextStep::Kind::answer_stop, evaluation, *find_station(evaluation, "recordings"), line);
  for (const Station& station : line)
    if (has_open_stop(evaluation, station.name))
      return answer(NextStep::Kind::answer_stop, evaluation, *find_station(evaluation, station.name), line);
  if (captures_wait_to_be_read(evaluation))
    return answer(NextStep::Kind::answer_attention, evaluation, *find_station(evaluation, "recordings"), line);
  for (const Turn turn : {Turn::own, Turn::after_the_others})
    for (const Station& station : line) {
      if (turn_of(station, evaluation) != turn) continue;
      if (!is_open(station, evaluation) || !needs_are_answered(station, evaluation, line)) continue;
      if (station.name == "nudge") return push_or_its_level(station, evaluation, line);
      return capture_for(station, evaluation, *find_station(evaluation, station.name));
    }
  if (const std::vector<std::string> faulty = faulty_stations(evaluation); !faulty.empty())
    return report_of(*find_station(evaluation, faulty.front()));
  for (const base::StationOutcome& outcome : evaluation.stations)
    if (outcome.result.verdict == base::Verdict::attention)
      return answer(NextStep::Kind::answer_attention, evaluation, outcome.result, line);
  for (const Station& station : line)
    if (is_open(station, evaluation))
      return capture_for(station, evaluation, *find_station(evaluation, station.name));
  if (evaluation.settings)
    return {.kind = NextStep::Kind::accept_settings,
            .station = "loops",
            .what = "Read the settings sheet and accept it with `evenbeam commission DIR --accept --by NAME`."};
  return {.what = "Nothing is left that this version can answer."};
}

std::string sharpening(const Evaluation& evaluation) {
  const base::StationResult* loops = find_station(evaluation, "loops");
  const base::Finding* found = loops == nullptr ? nullptr : base::find_finding(*loops, "next_capture");
  return found == nullptr || found->next.empty() ? "" : found->text + " " + found->next;
}

}  // namespace

NextStep next_step(const Evaluation& evaluation, const std::vector<Station>& line) {
  NextStep step = asked_for(evaluation, line);
  if (step.kind == NextStep::Kind::answer_attention || step.kind == NextStep::Kind::accept_settings ||
      step.kind == NextStep::Kind::nothing)
    step.sharpen = sharpening(evaluation);
  if (!step.sharpen.empty() && step.cautions.empty()) step.cautions = cautions_before_motion(evaluation);
  return step;
}

namespace {

bool is_pending(const Evaluation& evaluation, const std::string& station) {
  return std::find(evaluation.pending.begin(), evaluation.pending.end(), station) != evaluation.pending.end();
}

bool needs_are_here(const Station& station, const Evaluation& evaluation, const std::vector<Station>& line) {
  return std::none_of(line.begin(), line.end(), [&](const Station& other) {
    const bool needed = std::find(station.needs.begin(), station.needs.end(), other.name) != station.needs.end();
    return needed && (is_pending(evaluation, other.name) || !needs_are_here(other, evaluation, line));
  });
}

bool stops_already(const Evaluation& evaluation, const std::vector<Station>& line) {
  return std::any_of(line.begin(), line.end(), [&](const Station& station) {
    return !is_pending(evaluation, station.name) && has_open_stop(evaluation, station.name);
  });
}

// The capture that the whole evaluation would ask for unless a station at work finds a stop - and such a stop would
// not hold it back, since it needs none of them.
std::optional<NextStep> clear_capture(const Evaluation& evaluation, const std::vector<Station>& line) {
  if (captures_wait_to_be_read(evaluation) || stops_already(evaluation, line)) return {};
  for (const Station& station : line) {
    if (turn_of(station, evaluation) != Turn::own) continue;
    if (is_pending(evaluation, station.name)) return {};
    if (!is_open(station, evaluation) || !needs_are_answered(station, evaluation, line)) continue;
    if (station.name == "nudge" || !needs_are_here(station, evaluation, line)) return {};
    return capture_for(station, evaluation, *find_station(evaluation, station.name));
  }
  return {};
}

// The attention that the whole evaluation will name unless a station at work finds a stop or lacks its capture: no
// station that has answered does, none at work stands before it, and none of those that it needs is at work.
std::optional<NextStep> clear_attention(const Evaluation& evaluation, const std::vector<Station>& line) {
  if (stops_already(evaluation, line) || !faulty_stations(evaluation).empty()) return {};
  for (const Station& station : line)
    if (!is_pending(evaluation, station.name) && is_open(station, evaluation) &&
        turn_of(station, evaluation) != Turn::after_all_attention)
      return {};
  const auto asks = [&](const std::string& name) {
    const base::StationResult* result = find_station(evaluation, name);
    return result != nullptr && result->verdict == base::Verdict::attention;
  };
  const auto told = [&](const std::string& name) {
    return answer(NextStep::Kind::answer_attention, evaluation, *find_station(evaluation, name), line);
  };
  if (asks("recordings")) return told("recordings");
  for (const Station& station : line) {
    if (is_pending(evaluation, station.name) || !needs_are_here(station, evaluation, line)) return {};
    if (asks(station.name)) return told(station.name);
  }
  return {};
}

}  // namespace

NextStep next_step_so_far(const Evaluation& evaluation, const std::vector<Station>& line) {
  if (evaluation.pending.empty()) return next_step(evaluation, line);
  const auto stop_of = [&](const std::string& station) {
    return answer(NextStep::Kind::answer_stop, evaluation, *find_station(evaluation, station), line);
  };
  if (has_open_stop(evaluation, "recordings")) return stop_of("recordings");
  for (const Station& station : line) {
    if (is_pending(evaluation, station.name)) break;
    if (has_open_stop(evaluation, station.name)) return stop_of(station.name);
  }
  const std::string at_work = fmt::format("Still at work: {}.", fmt::join(evaluation.pending, ", "));
  if (std::optional<NextStep> capture = clear_capture(evaluation, line)) {
    capture->why += " " + at_work + " Whatever they say does not hold this back.";
    return *capture;
  }
  if (std::optional<NextStep> attention = clear_attention(evaluation, line)) {
    attention->why += " " + at_work + " A stop they find, or a capture they lack, comes before this.";
    return *attention;
  }
  return {.what = "What changed is being evaluated; what to do now follows. " + at_work};
}

std::vector<std::string> not_built(const std::vector<Station>& line) {
  std::vector<std::string> names;
  for (const Station& station : line)
    if (station.answer == nullptr) names.push_back(station.name);
  return names;
}

}  // namespace evenbeam::workflow
