#include "workflow/gates.h"

#include <algorithm>
#include <set>

#include "base/program_fault.h"

namespace evenbeam::workflow {
namespace {

void collect_needs(const std::string& name, const std::vector<Station>& line, std::set<std::string>& names) {
  for (const Station& station : line) {
    if (station.name != name) continue;
    for (const std::string& need : station.needs)
      if (names.insert(need).second) collect_needs(need, line, names);
  }
}

}  // namespace

std::vector<std::string> stop_findings(const base::StationResult& station) {
  std::vector<std::string> ids;
  for (const base::Finding& finding : station.findings)
    if (finding.verdict == base::Verdict::stop) ids.push_back(finding.id);
  return ids;
}

bool covers_a_stop(const Override& one, const base::StationResult& station) {
  const std::vector<std::string> stops = stop_findings(station);
  return std::any_of(stops.begin(), stops.end(),
                     [&](const std::string& id) { return journal::covers(one, station.name, id); });
}

std::vector<Override> overrides_of(const Evaluation& evaluation, const base::StationResult& station) {
  std::vector<Override> list;
  for (const Override& one : evaluation.overrides)
    if (covers_a_stop(one, station)) list.push_back(one);
  return list;
}

std::vector<std::string> open_stops(const Evaluation& evaluation, const base::StationResult& station) {
  std::vector<std::string> open = stop_findings(station);
  std::erase_if(open, [&](const std::string& id) {
    return std::any_of(evaluation.overrides.begin(), evaluation.overrides.end(),
                       [&](const Override& one) { return journal::covers(one, station.name, id); });
  });
  return open;
}

namespace {

bool is_set_aside(const Evaluation& evaluation, const base::StationResult& station) {
  return !stop_findings(station).empty() && open_stops(evaluation, station).empty();
}

}  // namespace

bool has_open_stop(const Evaluation& evaluation, const std::string& station) {
  const base::StationResult* result = find_station(evaluation, station);
  return result != nullptr && result->verdict == base::Verdict::stop && !is_set_aside(evaluation, *result);
}

namespace {

template <class Holds>
std::vector<std::string> above_that(const std::string& station, const std::vector<Station>& line, Holds holds) {
  std::set<std::string> above;
  collect_needs(station, line, above);
  std::vector<std::string> holding;
  for (const Station& other : line)
    if (above.count(other.name) > 0 && holds(other.name)) holding.push_back(other.name);
  return holding;
}

}  // namespace

std::vector<std::string> held_by(const std::string& station, const Evaluation& evaluation,
                                 const std::vector<Station>& line) {
  return above_that(station, line, [&](const std::string& name) { return has_open_stop(evaluation, name); });
}

std::vector<std::string> faulty_stations(const Evaluation& evaluation) {
  std::vector<std::string> names;
  for (const base::StationOutcome& outcome : evaluation.stations)
    if (base::program_fault(outcome.result) != nullptr) names.push_back(outcome.result.name);
  return names;
}

std::vector<std::string> unknown_above(const std::string& station, const Evaluation& evaluation,
                                       const std::vector<Station>& line) {
  return above_that(station, line, [&](const std::string& name) {
    const base::StationResult* result = find_station(evaluation, name);
    return result != nullptr && base::unknown_by_fault(*result);
  });
}

std::vector<std::string> acceptance_held_by(const Evaluation& evaluation, const std::vector<Station>& line) {
  std::vector<std::string> holding = held_by("loops", evaluation, line);
  if (has_open_stop(evaluation, "loops")) holding.emplace_back("loops");
  return holding;
}

base::Verdict overall_verdict(const Evaluation& evaluation) {
  base::Verdict verdict = base::Verdict::not_done;
  for (const base::StationOutcome& outcome : evaluation.stations) {
    const bool overridden = is_set_aside(evaluation, outcome.result);
    verdict = base::worse(verdict, overridden ? base::Verdict::attention : base::part_in_whole(outcome.result));
  }
  return verdict;
}

int exit_code(base::Verdict verdict) {
  if (verdict == base::Verdict::pass) return 0;
  return verdict == base::Verdict::stop ? 2 : 1;
}

int exit_code(const Evaluation& evaluation) {
  return faulty_stations(evaluation).empty() ? exit_code(overall_verdict(evaluation)) : 4;
}

}  // namespace evenbeam::workflow
