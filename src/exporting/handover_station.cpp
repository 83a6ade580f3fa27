#include "exporting/handover_station.h"

#include <fmt/format.h>

#include <algorithm>

#include "exporting/handover_sheets.h"
#include "exporting/redo.h"
#include "exporting/settings_sheet.h"

namespace evenbeam::exporting {
namespace {

using base::Finding;
using base::StationResult;
using base::Value;
using base::Verdict;

const char* const kPractice = "common practice, no source";

Finding settings_finding(const machine::Machine& machine, const std::optional<machine::Settings>& settings) {
  Finding f{.id = "settings_in_all_forms", .source = kPractice};
  if (!settings) {
    f.verdict = Verdict::not_done;
    f.text = "There are no settings to hand over yet.";
    f.next = "Make the captures that station loops asks for.";
    return f;
  }
  std::vector<std::string> lacking;
  for (const SettingsForm& form : settings_forms(*settings, machine))
    if (form.form != "ampere" &&  // asked for by few; its rows say what they lack
        std::any_of(form.rows.begin(), form.rows.end(),
                    [](const SheetRow& r) { return !r.value && r.how.rfind("unknown: machine.toml", 0) == 0; }))
      lacking.push_back(form.form);
  f.verdict = lacking.empty() ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "The settings stand in results/settings_forms.txt in {} forms, the loop law with them in "
      "settings.st.",
      form_names().size());
  if (!lacking.empty()) {
    f.text += fmt::format(" Not whole, since machine.toml lacks a scale: {}.", fmt::join(lacking, ", "));
    f.next = "Add the keys that the rows name (count, peak_force, full_output), if the controller counts in them.";
  }
  return f;
}

// What of the record is open; the next person must not find out by himself.
Finding open_finding(const std::vector<StationResult>& done) {
  std::vector<std::string> stops, missing;
  for (const char* name : {"limits", "nudge", "marks", "fit", "loops", "trips", "prove"}) {
    const auto station =
        std::find_if(done.begin(), done.end(), [&](const StationResult& one) { return one.name == name; });
    if (station == done.end() || station->verdict == Verdict::not_done)
      missing.push_back(name);
    else if (station->verdict == Verdict::stop)
      stops.push_back(name);
  }
  Finding f{.id = "open_ends",
            .verdict = Verdict::pass,
            .text = "The record is whole: no station is open.",
            .source = kPractice};
  if (stops.empty() && missing.empty()) return f;
  f.verdict = Verdict::attention;
  f.text = "Handed over with open ends:";
  if (!stops.empty()) f.text += fmt::format(" stop of {};", fmt::join(stops, ", "));
  if (!missing.empty()) f.text += fmt::format(" not done: {};", fmt::join(missing, ", "));
  f.text.back() = '.';
  f.next = "Tell the next person, or settle them first (`evenbeam next`).";
  return f;
}

Finding spare_finding(const SpareParts& parts) {
  Finding f{.id = "spare_parts", .verdict = Verdict::pass, .source = kPractice};
  f.text = fmt::format("Spare parts: {} kinds, with what each must match.", parts.rows.size());
  if (parts.unknown.empty()) return f;
  f.verdict = Verdict::attention;
  f.text += fmt::format(" Unknown, and an order would need it: {}.", fmt::join(parts.unknown, ", "));
  f.next = "Read it off the nameplates and add it to machine.toml.";
  return f;
}

Finding redo_finding() {
  return {.id = "after_a_repair",
          .verdict = Verdict::pass,
          .text = fmt::format("What to redo after a repair: `evenbeam next DIR --after` {}.",
                              fmt::join(redo_names(redo_table()), ", ")),
          .source = kPractice};
}

std::vector<base::Row> redo_rows(const machine::Machine& machine) {
  std::vector<base::Row> rows;
  for (const std::string& name : redo_names(redo_table())) {
    const RedoPlan plan = redo_after(redo_table(), name, machine);
    std::vector<std::string> captures, stations;
    for (const RedoPlan::Item& one : plan.captures) captures.push_back(one.name);
    for (const RedoPlan::Item& one : plan.stations) stations.push_back(one.name);
    rows.push_back({{"after", name},
                    {"captures", fmt::format("{}", fmt::join(captures, ", "))},
                    {"stations", fmt::format("{}", fmt::join(stations, ", "))}});
  }
  return rows;
}

}  // namespace

base::StationOutcome handover_station(const machine::Machine& machine, const std::vector<StationResult>& done,
                                      const std::optional<machine::Settings>& settings) {
  base::StationOutcome out;
  out.result.name = "handover";
  const SpareParts parts = spare_parts(machine);
  out.result.findings = {settings_finding(machine, settings)};
  if (settings) {  // before there is anything to hand over, the lists alone give no verdict
    out.result.findings.push_back(open_finding(done));
    out.result.findings.push_back(spare_finding(parts));
    out.result.findings.push_back(redo_finding());
  }
  out.result.verdict = base::overall(out.result.findings);
  auto& values = out.result.values;
  values.emplace_back("parameter_backup", Value{.value = backup_list(machine)});
  values.emplace_back("spare_parts", Value{.value = parts.rows});
  values.emplace_back("maintenance_baseline", Value{.value = maintenance_baseline(done)});
  values.emplace_back("redo", Value{.value = redo_rows(machine)});
  return out;
}

}  // namespace evenbeam::exporting
