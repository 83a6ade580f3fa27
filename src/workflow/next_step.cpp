#include "workflow/next_step.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/program_fault.h"
#include "workflow/gates.h"
#include "workflow/next_step_parts.h"

namespace evenbeam::workflow {
namespace {

const base::Finding* first_with(const base::StationResult& station, base::Verdict verdict) {
  for (const base::Finding& finding : station.findings)
    if (finding.verdict == verdict) return &finding;
  return nullptr;
}

}  // namespace

NextStep answer_for(NextStep::Kind kind, const Evaluation& evaluation, const base::StationResult& station,
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

Turn turn_of(const Station& station, const Evaluation& evaluation) {
  const auto moved = [](const recording::Recording& r) {
    return r.kind != recording::RunKind::one_side && r.kind != recording::RunKind::standstill;
  };
  if (station.name == "ready" && std::any_of(evaluation.recordings.begin(), evaluation.recordings.end(), moved))
    return Turn::after_all_attention;
  const bool free = station.name == "square" && evaluation.machine.home_attitude == "free";
  return free ? Turn::after_the_others : Turn::own;
}

bool is_open(const Station& station, const Evaluation& evaluation) {
  const base::StationResult* result = find_station(evaluation, station.name);
  return station.answer != nullptr && result != nullptr && result->verdict == base::Verdict::not_done &&
         !base::unknown_by_fault(*result);
}

bool needs_are_answered(const Station& station, const Evaluation& evaluation, const std::vector<Station>& line) {
  if (!unknown_above(station.name, evaluation, line).empty()) return false;
  return std::none_of(line.begin(), line.end(), [&](const Station& other) {
    const bool needed = std::find(station.needs.begin(), station.needs.end(), other.name) != station.needs.end();
    return needed && is_open(other, evaluation) && turn_of(other, evaluation) != Turn::after_all_attention;
  });
}

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

namespace {

NextStep report_of(const base::StationResult& station) {
  const base::Finding& fault = *base::program_fault(station);
  return {.kind = NextStep::Kind::report_fault, .station = station.name, .what = fault.next, .why = fault.text};
}

// An open-loop push without a known safe level waits for `limits`, whatever its verdict.
NextStep push_or_its_level(const Station& nudge, const Evaluation& evaluation, const std::vector<Station>& line) {
  const base::StationResult* limits = find_station(evaluation, "limits");
  const bool known = number_of(evaluation, "limits", "push_level") && number_of(evaluation, "limits", "push_time_s");
  if (!known && limits != nullptr && limits->verdict == base::Verdict::attention)
    return answer_for(NextStep::Kind::answer_attention, evaluation, *limits, line);
  return capture_for(nudge, evaluation, *find_station(evaluation, nudge.name));
}

NextStep asked_for(const Evaluation& evaluation, const std::vector<Station>& line) {
  if (has_open_stop(evaluation, "recordings"))  // what is read comes before what is asked of it
    return answer_for(NextStep::Kind::answer_stop, evaluation, *find_station(evaluation, "recordings"), line);
  for (const Station& station : line)
    if (has_open_stop(evaluation, station.name))
      return answer_for(NextStep::Kind::answer_stop, evaluation, *find_station(evaluation, station.name), line);
  if (captures_wait_to_be_read(evaluation))
    return answer_for(NextStep::Kind::answer_attention, evaluation, *find_station(evaluation, "recordings"), line);
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
      return answer_for(NextStep::Kind::answer_attention, evaluation, outcome.result, line);
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

}  // namespace evenbeam::workflow
