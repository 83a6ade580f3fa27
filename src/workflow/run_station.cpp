#include "workflow/run_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <utility>

#include "base/check.h"
#include "base/hash.h"
#include "machine/topology.h"

namespace evenbeam::workflow {
namespace {

template <class T>
bool holds(const std::vector<T>& list, const T& one) {
  return std::find(list.begin(), list.end(), one) != list.end();
}

using Wanted = std::function<bool(const recording::Recording&)>;

Wanted of_kinds(const std::vector<recording::RunKind>& kinds) {
  return [kinds](const recording::Recording& r) { return holds(kinds, r.kind); };
}

// What identification reads: captures in motion with the bridge connected, and every payload that is stated.
bool tells_with_others(const recording::Recording& r) {
  using enum recording::RunKind;
  static const std::vector<recording::RunKind> kinds{nudge, multisine, search, test_move, slow_jog, skew_step};
  return holds(kinds, r.kind) || r.payload_kg.has_value();
}

std::vector<recording::Recording> lend(std::vector<recording::Recording>& all, const Wanted& wanted) {
  std::vector<recording::Recording> lent;
  for (recording::Recording& r : all)
    if (wanted(r)) lent.push_back(std::move(r));  // kind and payload stay, and keep its place
  return lent;
}

void give_back(std::vector<recording::Recording>& all, std::vector<recording::Recording> lent, const Wanted& wanted) {
  auto next = lent.begin();
  for (recording::Recording& r : all)
    if (wanted(r)) r = std::move(*next++);
}

std::string captures_key(const Bench& bench, const Keys& keys, const Wanted& wanted) {
  std::string key;
  for (const recording::Recording& r : bench.recordings)
    if (wanted(r)) key += keys.captures.at(r.name) + '\n';
  return key;
}

std::string identified_key(const Bench& bench, const Keys& keys) {
  return base::sha256_hex(keys.machine + '\n' + captures_key(bench, keys, tells_with_others));
}

std::string answer_key(const Station& station, const Bench& bench, const Keys& keys) {
  std::string key =
      station.name + '\n' + keys.machine + '\n' + captures_key(bench, keys, of_kinds(station.reads.kinds));
  if (station.reads.sheets) key += "sheets " + keys.sheets + '\n';
  if (station.reads.identified) key += "identified " + identified_key(bench, keys) + '\n';
  for (const std::string& used : station.uses)
    if (const auto found = keys.answers.find(used); found != keys.answers.end()) key += used + ' ' + found->second;
  return base::sha256_hex(key);
}

// Several stations stand on the same fits; the first that asks pays for them.
void identify(Bench& bench, const Keys& keys, Kept& kept, const Progress& progress) {
  if (bench.identified) return;
  const std::string key = identified_key(bench, keys);
  if (!kept.identified || kept.identified_key != key) {
    progress("what the captures tell together");
    std::vector<recording::Recording> lent = lend(bench.recordings, tells_with_others);
    kept.identified = identification::identify(lent, bench.machine);
    kept.identified_key = key;
    give_back(bench.recordings, std::move(lent), tells_with_others);
  }
  bench.identified = kept.identified;
}

void leave(Bench& bench, const Left& left) {
  if (left.settings) bench.settings = left.settings;
  if (left.search) bench.search = left.search;
  if (!left.proposed_loops.empty()) bench.proposed_loops = left.proposed_loops;
  if (!left.own_loops.empty()) bench.own_loops = left.own_loops;
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

KeptAnswer answer(const Station& station, Bench& bench) {
  const bool uses_loops = holds(station.uses, std::string("loops"));
  Bench lent{.machine = bench.machine, .recordings = lend(bench.recordings, of_kinds(station.reads.kinds))};
  if (station.reads.sheets) {
    lent.rules = bench.rules;
    lent.positioning = bench.positioning;
    lent.squareness = bench.squareness;
    lent.ready = bench.ready;
  }
  for (const base::StationResult& result : bench.done)
    if (holds(station.uses, result.name)) lent.done.push_back(result);
  if (station.reads.identified) std::swap(lent.identified, bench.identified);
  if (uses_loops)
    leave(lent, {.settings = bench.settings, .proposed_loops = bench.proposed_loops, .own_loops = bench.own_loops});
  KeptAnswer made{.outcome = station.answer(lent)};
  add_builds(bench.machine, made.outcome.result);
  give_back(bench.recordings, std::move(lent.recordings), of_kinds(station.reads.kinds));
  if (station.reads.identified) std::swap(lent.identified, bench.identified);
  made.left = {.search = std::move(lent.search)};
  if (uses_loops) return made;  // what it was lent, it does not leave
  made.left.settings = std::move(lent.settings);
  made.left.proposed_loops = std::move(lent.proposed_loops);
  made.left.own_loops = std::move(lent.own_loops);
  return made;
}

}  // namespace

Keys keys_of(const Job& job) {
  Keys keys;
  const std::size_t captures = job.recordings.size() + job.broken.size();  // the last of the inputs
  for (std::size_t i = 0; i + captures < job.inputs.size(); ++i) {
    const journal::InputFile& input = job.inputs[i];
    if (input.file == "machine.toml") keys.machine += input.sha256;
    if (input.file != "machine.toml" && input.file != "recordings.toml")
      keys.sheets += input.file + ' ' + input.sha256 + '\n';
  }
  for (std::size_t i = 0; i < job.recordings.size(); ++i)
    keys.captures[job.recordings[i].name] =
        job.recordings[i].name + (i < job.imports.size() ? ' ' + std::to_string(job.imports[i]) : "");
  return keys;
}

base::StationOutcome run_station(const Station& station, Bench& bench, Keys& keys, Kept& kept,
                                 const Progress& progress) {
  const std::string key = answer_key(station, bench, keys);
  const auto refusal = machine::refusal_of(bench.machine, station.name);
  if (station.reads.identified && !refusal) identify(bench, keys, kept, progress);
  KeptAnswer& known = kept.answers[station.name];
  if (known.key != key) {
    progress("station " + station.name);
    known = {};
    if (station.answer == nullptr)
      known.outcome = not_done(station);
    else if (refusal)
      known.outcome = refused(station, *refusal);
    else
      known = answer(station, bench);
    base::check(known.outcome.result.name == station.name, "a station answers under its own name: " + station.name);
    known.key = key;
    ++kept.answers_made;
  }
  keys.answers[station.name] = key;
  leave(bench, known.left);
  bench.done.push_back(known.outcome.result);
  return known.outcome;
}

}  // namespace evenbeam::workflow
