#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "workflow/gates.h"
#include "workflow/next_step_parts.h"

namespace evenbeam::workflow {
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
    return answer_for(NextStep::Kind::answer_attention, evaluation, *find_station(evaluation, name), line);
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
    return answer_for(NextStep::Kind::answer_stop, evaluation, *find_station(evaluation, station), line);
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

}  // namespace evenbeam::workflow
