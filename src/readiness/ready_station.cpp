#include "readiness/ready_station.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "machine/topology.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;
using recording::RunKind;

Finding no_sheet(const Sheet& sheet, std::size_t lines) {
  const bool there = !sheet.file.empty();
  return {
      .id = "no_sheet",
      .verdict = Verdict::not_done,
      .text = there ? "ready.toml is there, and nothing is filled in yet."
                    : fmt::format("There is no ready.toml: {} lines of mechanics, wiring, switches, brakes and each "
                                  "side alone are to be checked by hand before anything moves.",
                                  lines),
      .source = no_source,
      .next = there ? "Fill it in, in its order, drives off and locked out."
                    : "`evenbeam ready DIR --sheet` writes it, with how to check each line; fill it in."};
}

Finding summary(const std::vector<Judged>& lines) {
  const auto good = std::count_if(lines.begin(), lines.end(), [](const Judged& j) { return j.state == State::good; });
  return {.id = "sheet",
          .verdict = Verdict::pass,
          .text = fmt::format("{} of {} lines of the check sheet are good.", good, lines.size()),
          .source = no_source};
}

// What the machine's build means for all stations; those not named answer as they do for bolted ends.
base::Value builds_value(const machine::Machine& machine) {
  std::vector<base::Row> rows;
  for (const machine::Build& build : machine::builds_of(machine))
    rows.push_back({{"build", build.name},
                    {"answer", build.sentence},
                    {"no_answer_from", fmt::format("{}", fmt::join(build.refused, ", "))}});
  return {.value = std::move(rows)};
}

void add_sheet(const std::vector<Judged>& lines, const std::vector<Finding>& others, const machine::Machine& machine,
               base::StationResult& result) {
  result.values.emplace_back("gates", base::Value{.value = gate_rows(lines, others)});
  for (const Part part :
       {Part::access, Part::mechanics, Part::wiring, Part::brakes, Part::sides_alone, Part::enabling}) {
    std::string key = "sheet_" + to_text(part);
    std::replace(key.begin(), key.end(), ' ', '_');
    result.values.emplace_back(key, base::Value{.value = sheet_rows(lines, part, machine)});
  }
}

}  // namespace

void add_number(base::StationResult& result, const std::string& key, double value, const std::string& unit) {
  base::Value entry;
  entry.value = value;
  entry.unit = unit;
  result.values.emplace_back(key, std::move(entry));
}

Reached reached_by(const std::vector<recording::Recording>& recordings) {
  Reached reached = Reached::nothing;
  for (const recording::Recording& r : recordings) {
    if (r.kind == RunKind::one_side || r.kind == RunKind::standstill || r.kind == RunKind::enabling) continue;
    reached = std::max(reached, r.kind == RunKind::nudge ? Reached::pushed : Reached::moved);
  }
  return reached;
}

base::StationOutcome ready_station(const Sheet& sheet, const machine::Machine& machine,
                                   const std::vector<recording::Recording>& recordings, const Known& known) {
  base::StationOutcome out{.result = {.name = "ready"}};
  base::StationResult& result = out.result;
  const std::vector<Judged> lines = judge(check_sheet(machine), sheet);
  const bool begun = !sheet.measured.empty() || !sheet.parameters.empty();
  // What is no line of the sheet: captures speak for themselves, the rest needs the sheet.
  const auto released_m = add_enable_captures(recordings, machine, known, result);
  add_sides_alone(sheet, machine, recordings, known, result);
  if (begun) {
    const std::vector<Finding> pairs = pair_findings(sheet, machine);
    result.findings.insert(result.findings.end(), pairs.begin(), pairs.end());
    add_gravity(sheet, machine, result);
    add_parameters(sheet, result);
    add_enable_order(sheet, machine, recordings, known, released_m, result);
  }
  add_growth(sheet, machine, known, result);
  const std::vector<Finding> others = std::move(result.findings);
  result.findings = begun ? line_findings(lines, reached_by(recordings), machine)
                          : std::vector<Finding>{no_sheet(sheet, lines.size())};
  result.findings.insert(result.findings.end(), others.begin(), others.end());
  if (begun) result.findings.push_back(summary(lines));
  result.verdict = base::overall(result.findings);
  if (!begun && result.verdict == Verdict::pass) result.verdict = Verdict::not_done;  // good captures check no sheet
  add_sheet(lines, others, machine, result);
  result.values.emplace_back("topology", builds_value(machine));
  return out;
}

}  // namespace evenbeam::readiness
