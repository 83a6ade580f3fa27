#include "workflow/run_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <functional>
#include <optional>
#include <utility>

#include "base/check.h"
#include "base/hash.h"
#include "base/input_error.h"
#include "base/program_fault.h"
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

// A class: what it lends is back in its place when it ends, whatever became of the one it was lent to.
class Loan {
 public:
  Loan(std::vector<recording::Recording>& all, std::vector<recording::Recording>& lent, Wanted wanted)
      : all_(all), lent_(lent), wanted_(std::move(wanted)) {
    for (recording::Recording& r : all_)
      if (wanted_(r)) lent_.push_back(std::move(r));  // kind and payload stay, and keep its place
  }
  ~Loan() {
    auto next = lent_.begin();
    for (recording::Recording& r : all_)
      if (wanted_(r)) r = std::move(*next++);
  }
  Loan(const Loan&) = delete;
  Loan& operator=(const Loan&) = delete;

 private:
  std::vector<recording::Recording>&all_, &lent_;
  const Wanted wanted_;
};

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

// Several stations stand on the same fits; the first that asks pays for them, and all of them for its fault.
void identify(Bench& bench, const Keys& keys, Kept& kept, const Progress& progress) {
  if (bench.identified) return;
  const std::string key = identified_key(bench, keys);
  if (!kept.identified || kept.identified_key != key) {
    progress("what the captures tell together");
    std::vector<recording::Recording> lent;
    const Loan loan(bench.recordings, lent, tells_with_others);
    kept.identified = identification::identify(lent, bench.machine);
    kept.identified_key = key;
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

// What `task` throws is a fault of the program and comes back as its text; bad input passes through to the front
// door.
template <class Task>
std::optional<std::string> fault_of(Task task) {
  try {
    task();
  } catch (const base::InputError&) {
    throw;
  } catch (const std::exception& error) {
    return error.what();
  }
  return {};
}

// The stations without whose numbers this one has nothing to stand on.
std::vector<std::string> faulty_below(const Station& station, const Bench& bench) {
  std::vector<std::string> names;
  if (station.does_without) return names;
  for (const base::StationResult& result : bench.done)
    if (holds(station.uses, result.name) && base::unknown_by_fault(result)) names.push_back(result.name);
  return names;
}

KeptAnswer answer(const Station& station, Bench& bench) {
  const bool uses_loops = holds(station.uses, std::string("loops"));
  Bench lent{.machine = bench.machine};
  const Loan loan(bench.recordings, lent.recordings, of_kinds(station.reads.kinds));
  if (station.reads.sheets) {
    lent.rules = bench.rules;
    lent.positioning = bench.positioning;
    lent.squareness = bench.squareness;
    lent.ready = bench.ready;
  }
  for (const base::StationResult& result : bench.done)
    if (holds(station.uses, result.name)) lent.done.push_back(result);
  if (station.reads.identified) lent.identified = bench.identified;
  if (uses_loops)
    leave(lent, {.settings = bench.settings, .proposed_loops = bench.proposed_loops, .own_loops = bench.own_loops});
  KeptAnswer made{.outcome = station.answer(lent)};
  add_builds(bench.machine, made.outcome.result);
  made.left = {.search = std::move(lent.search)};
  if (uses_loops) return made;  // what it was lent, it does not leave
  made.left.settings = std::move(lent.settings);
  made.left.proposed_loops = std::move(lent.proposed_loops);
  made.left.own_loops = std::move(lent.own_loops);
  return made;
}

// A fault of the program ends this station alone.
KeptAnswer answer_or_fault(const Station& station, Bench& bench) {
  if (const auto faulty = faulty_below(station, bench); !faulty.empty())
    return {.outcome = base::waiting_for_fault(station.name, faulty)};
  KeptAnswer made;
  std::optional<std::string> fault;
  if (station.reads.identified) fault = bench.identify_fault;
  if (!fault)
    fault = fault_of([&] {
      made = answer(station, bench);
      base::check(made.outcome.result.name == station.name, "a station answers under its own name: " + station.name);
    });
  return fault ? KeptAnswer{.outcome = base::ended_by_fault(station.name, *fault)} : made;
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
  if (station.reads.identified && !refusal && !bench.identify_fault)
    bench.identify_fault = fault_of([&] { identify(bench, keys, kept, progress); });
  KeptAnswer& known = kept.answers[station.name];
  if (known.key != key) {
    progress("station " + station.name);
    known = {};
    if (station.answer == nullptr)
      known.outcome = not_done(station);
    else if (refusal)
      known.outcome = refused(station, *refusal);
    else
      known = answer_or_fault(station, bench);
    // What a fault left open is never kept: it is tried again.
    if (!base::unknown_by_fault(known.outcome.result)) known.key = key;
    ++kept.answers_made;
  }
  keys.answers[station.name] = key;
  leave(bench, known.left);
  bench.done.push_back(known.outcome.result);
  return known.outcome;
}

}  // namespace evenbeam::workflow
