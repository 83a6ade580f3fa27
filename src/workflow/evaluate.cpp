#include "workflow/evaluate.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/check.h"
#include "base/program_fault.h"
#include "workflow/run_station.h"
#include "workflow/station_calls.h"

namespace evenbeam::workflow {
namespace {

base::Finding kind_finding(const recording::Recording& r) {
  const bool known = r.kind != recording::RunKind::unknown;
  base::Finding finding{
      .id = "kind_" + r.name,
      .verdict = known ? base::Verdict::pass : base::Verdict::attention,
      .text = fmt::format("{} is {}{}", r.name,
                          known ? (r.kind == recording::RunKind::enabling ? "an " : "a ") + recording::to_text(r.kind)
                                : "of no known kind",
                          r.kind_reason.empty() ? "." : fmt::format(": {}", r.kind_reason)),
      .recording = r.name};
  if (!finding.text.ends_with(".")) finding.text += ".";
  if (!r.time_s.empty()) finding.from_s = r.time_s.front(), finding.to_s = r.time_s.back();
  if (!known) finding.next = "State its kind in recordings.toml.";
  return finding;
}

base::Finding unread_finding(const Job& job) {
  std::vector<std::string> names;
  for (const BrokenRecording& broken : job.broken) names.push_back(broken.file);
  return {
      .id = "unread",
      .verdict = base::Verdict::attention,
      .text = fmt::format("{} of {} captures could not be read and do not count: {}. What the first lacks: {}",
                          names.size(), names.size() + job.recordings.size(), fmt::join(names, ", "),
                          job.broken.front().message),
      .next =
          "Add to recordings.toml what the messages in the report name (under [all] where it is the same for every "
          "file), or answer on the page (evenbeam serve DIR); the original files stay as they came."};
}

bool has_run(const Bench& bench, const std::string& name) {
  return std::any_of(bench.done.begin(), bench.done.end(), [&](const auto& result) { return result.name == name; });
}

// Uses of stations that are not in the line or not built do not hold a station up.
bool may_run(const Station& station, const std::vector<Station>& line, const Bench& bench) {
  return std::all_of(line.begin(), line.end(), [&](const Station& other) {
    const bool used = std::find(station.uses.begin(), station.uses.end(), other.name) != station.uses.end();
    return !used || has_run(bench, other.name);
  });
}

}  // namespace

base::StationOutcome recordings_station(const Job& job) {
  base::StationOutcome outcome{.result = {.name = "recordings"}};
  auto& findings = outcome.result.findings;
  if (job.machine_untouched)
    findings.push_back(
        {.id = "machine_template",
         .verdict = base::Verdict::stop,
         .text = "machine.toml is still the template: its span is an example, not this machine's.",
         .next = "Fill in machine.toml: the span, then whatever the papers say; ten lines are enough."});
  if (!job.recordings.empty())
    findings.push_back(
        {.id = "read",
         .verdict = base::Verdict::pass,
         .text = fmt::format("{} captures were read{}.", job.recordings.size(),
                             job.broken.empty() ? "" : fmt::format(", {} could not be", job.broken.size()))});
  if (job.broken.size() > 1) findings.push_back(unread_finding(job));
  for (const BrokenRecording& broken : job.broken)
    findings.push_back(
        {.id = (broken.units_only ? "unread_for_units_" : "unread_") + broken.file,
         .verdict = base::Verdict::attention,
         .text = fmt::format("{} could not be read and does not count: {}", broken.file, broken.message),
         .recording = broken.file,
         .next = "Correct what the message names; the original file stays as it came."});
  for (const recording::Recording& r : job.recordings) {
    findings.push_back(kind_finding(r));
    for (base::Finding finding : r.findings) {
      if (finding.recording.empty()) finding.recording = r.name;
      finding.id += "_" + r.name;
      findings.push_back(std::move(finding));
    }
  }
  for (const LeftOut& file : job.left_out)
    findings.push_back({.id = "left_out_" + file.file,
                        .verdict = base::Verdict::pass,
                        .text = fmt::format("{} is left out: {}.", file.file, file.reason),
                        .recording = file.file});
  if (job.recordings.empty() && job.broken.empty())
    findings.push_back({.id = "none",
                        .text = "There are no captures yet.",
                        .next = "Put captures as they come into the folder recordings/."});
  outcome.result.verdict = base::overall(findings);
  return outcome;
}

namespace {

Bench bench_of(Job job) {
  return {.machine = std::move(job.machine),
          .recordings = std::move(job.recordings),
          .rules = std::move(job.rules),
          .positioning = std::move(job.positioning),
          .squareness = std::move(job.squareness),
          .ready = std::move(job.ready)};
}

using Told = std::function<void(const Bench&, const std::vector<base::StationOutcome>&)>;

// Outcomes in the order of the line; without a name where a station has not answered yet. The first of the line that
// may run is always next, so that what the early stations say does not wait for loops and trips.
std::vector<base::StationOutcome> run_line(Bench& bench, Keys keys, const std::vector<Station>& line, Kept& kept,
                                           const Progress& progress, const Told& told) {
  std::vector<base::StationOutcome> outcomes(line.size());
  for (std::size_t done = 0; done < line.size(); ++done) {
    const auto next = std::find_if(line.begin(), line.end(), [&](const Station& station) {
      return !has_run(bench, station.name) && may_run(station, line, bench);
    });
    base::check(next != line.end(), "the stations' uses form no circle");
    const long answers_made = kept.answers_made;
    outcomes[std::size_t(next - line.begin())] = run_station(*next, bench, keys, kept, progress);
    if (kept.answers_made > answers_made) told(bench, outcomes);
  }
  return outcomes;
}

void take_outcomes(Evaluation& evaluation, const std::vector<Station>& line,
                   std::vector<base::StationOutcome> outcomes) {
  for (std::size_t i = 0; i < line.size(); ++i)
    if (outcomes[i].result.name.empty())
      evaluation.pending.push_back(line[i].name);
    else
      evaluation.stations.push_back(std::move(outcomes[i]));
}

}  // namespace

Bench bench_after(Job job, const std::vector<Station>& line, const Progress& progress) {
  Keys keys = keys_of(job);
  Bench bench = bench_of(std::move(job));
  Kept kept;
  const auto outcomes = run_line(bench, std::move(keys), line, kept, progress, [](const auto&, const auto&) {});
  for (const base::StationOutcome& outcome : outcomes)
    if (const base::Finding* fault = base::program_fault(outcome.result)) throw base::Bug(fault->text);
  return bench;
}

Evaluation evaluate(Job job, const std::vector<Station>& line, const Progress& progress, Kept* kept,
                    const SoFar& so_far) {
  Evaluation evaluation{.job = job.name, .inputs = job.inputs};
  evaluation.stations.push_back(recordings_station(job));
  Keys keys = keys_of(job);
  Bench bench = bench_of(std::move(job));
  const Told told = [&](const Bench& now, const std::vector<base::StationOutcome>& outcomes) {
    if (!so_far) return;
    Evaluation partial = evaluation;
    take_outcomes(partial, line, outcomes);
    partial.machine = now.machine;
    partial.recordings = now.recordings;
    partial.rules = now.rules;
    so_far(std::move(partial));
  };
  told(bench, std::vector<base::StationOutcome>(line.size()));
  Kept own;
  take_outcomes(evaluation, line,
                run_line(bench, std::move(keys), line, kept != nullptr ? *kept : own, progress, told));
  const base::StationResult* rehearse = find_station(evaluation, "rehearse");
  if (bench.identified && (rehearse == nullptr || !base::unknown_by_fault(*rehearse)))
    evaluation.rehearse = rehearse_input(bench);
  evaluation.machine = std::move(bench.machine);
  evaluation.recordings = std::move(bench.recordings);
  evaluation.rules = std::move(bench.rules);
  evaluation.settings = bench.settings;
  evaluation.identified = std::move(bench.identified);
  evaluation.search = std::move(bench.search);
  return evaluation;
}

journal::Result result_of(const Evaluation& evaluation) {
  journal::Result result{.job = evaluation.job, .inputs = evaluation.inputs};
  for (const base::StationOutcome& outcome : evaluation.stations) result.stations.push_back(outcome.result);
  return result;
}

std::optional<double> number_of(const Evaluation& evaluation, const std::string& station, const std::string& key) {
  const base::StationResult* result = find_station(evaluation, station);
  return result != nullptr ? base::find_number(*result, key) : std::nullopt;
}

const base::StationResult* find_station(const Evaluation& evaluation, const std::string& name) {
  for (const base::StationOutcome& outcome : evaluation.stations)
    if (outcome.result.name == name) return &outcome.result;
  return nullptr;
}

}  // namespace evenbeam::workflow
