#include "workflow/evaluate.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/check.h"
#include "machine/topology.h"
#include "workflow/station_calls.h"

namespace evenbeam::workflow {
namespace {

base::Finding kind_finding(const recording::Recording& r) {
  const bool known = r.kind != recording::RunKind::unknown;
  base::Finding finding{
      .id = "kind_" + r.name,
      .verdict = known ? base::Verdict::pass : base::Verdict::attention,
      .text = fmt::format("{} is {}{}", r.name, known ? "a " + recording::to_text(r.kind) : "of no known kind",
                          r.kind_reason.empty() ? "." : fmt::format(": {}", r.kind_reason)),
      .recording = r.name};
  if (!finding.text.ends_with(".")) finding.text += ".";
  if (!r.time_s.empty()) finding.from_s = r.time_s.front(), finding.to_s = r.time_s.back();
  if (!known) finding.next = "State its kind in recordings.toml.";
  return finding;
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

// A machine that the station's physics does not hold for is not evaluated as if it were another.
base::StationOutcome refused(const Station& station, const machine::Refusal& refusal) {
  base::StationOutcome out{.result = {.name = station.name, .verdict = base::Verdict::attention}};
  out.result.findings.push_back({.id = "topology",
                                 .verdict = base::Verdict::attention,
                                 .text = refusal.why,
                                 .source = "machine.toml, docs/topologies.md",
                                 .next = refusal.instead});
  return out;
}

// What the machine's build changes at this station.
void add_builds(const machine::Machine& machine, base::StationResult& result) {
  for (const machine::Build& build : machine::builds_of(machine))
    for (const machine::StationWords& change : build.changes)
      if (change.station == result.name)
        result.findings.push_back({.id = "topology",
                                   .verdict = base::Verdict::pass,
                                   .text = fmt::format("With {}: {}", build.name, change.words),
                                   .source = "machine.toml, docs/topologies.md"});
}

base::StationOutcome answer(const Station& station, Bench& bench) {
  if (station.answer == nullptr) return not_done(station);
  if (const auto refusal = machine::refusal_of(bench.machine, station.name)) return refused(station, *refusal);
  base::StationOutcome outcome = station.answer(bench);
  add_builds(bench.machine, outcome.result);
  return outcome;
}

base::StationOutcome run(const Station& station, Bench& bench) {
  base::StationOutcome outcome = answer(station, bench);
  base::check(outcome.result.name == station.name, "a station answers under its own name: " + station.name);
  bench.done.push_back(outcome.result);
  return outcome;
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
  for (const BrokenRecording& broken : job.broken)
    findings.push_back(
        {.id = "unread_" + broken.file,
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

// Outcomes in the order of the line.
std::vector<base::StationOutcome> run_line(Bench& bench, const std::vector<Station>& line, const Progress& progress) {
  std::vector<base::StationOutcome> outcomes(line.size());
  for (std::size_t done = 0; done < line.size();) {
    const std::size_t before = done;
    for (std::size_t i = 0; i < line.size(); ++i) {
      if (has_run(bench, line[i].name) || !may_run(line[i], line, bench)) continue;
      progress("station " + line[i].name);
      outcomes[i] = run(line[i], bench);
      ++done;
    }
    base::check(done > before, "the stations' uses form no circle");
  }
  return outcomes;
}

}  // namespace

Bench bench_after(Job job, const std::vector<Station>& line, const Progress& progress) {
  Bench bench = bench_of(std::move(job));
  run_line(bench, line, progress);
  return bench;
}

Evaluation evaluate(Job job, const std::vector<Station>& line, const Progress& progress) {
  Evaluation evaluation{.job = job.name, .inputs = job.inputs};
  evaluation.stations.push_back(recordings_station(job));
  Bench bench = bench_of(std::move(job));
  std::vector<base::StationOutcome> outcomes = run_line(bench, line, progress);
  std::move(outcomes.begin(), outcomes.end(), std::back_inserter(evaluation.stations));
  if (bench.identified) evaluation.rehearse = rehearse_input(bench);
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
