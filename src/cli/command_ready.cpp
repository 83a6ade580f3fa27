#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/json.h"
#include "cli/commands.h"
#include "cli/places.h"
#include "journal/result_file.h"
#include "workflow/gates.h"
#include "workflow/ready_sheet.h"

namespace evenbeam::cli {
namespace {

std::string text_of(const base::Row& row, const std::string& key) {
  for (const auto& [name, cell] : row)
    if (name == key)
      if (const auto* text = std::get_if<std::string>(&cell)) return *text;
  return "";
}

void print_rows(const std::string& key, const std::vector<base::Row>& rows, Console& console) {
  if (key == "gates") {
    for (const base::Row& row : rows) {
      console.out << fmt::format("{}: {}", text_of(row, "gate"), text_of(row, "state"));
      const std::string held = text_of(row, "held_by");
      if (!held.empty()) console.out << "\n  " << wrapped("held by " + held, 2);
      console.out << "\n";
    }
    return;
  }
  if (!key.starts_with("sheet_") || rows.empty()) return;
  console.out << fmt::format("\n{}\n", key.substr(6));
  for (const base::Row& row : rows)
    console.out << "  "
                << wrapped(fmt::format("{}: {}{}{}", text_of(row, "state"), text_of(row, "check"),
                                       text_of(row, "measured").empty() ? "" : ", ", text_of(row, "measured")),
                           4)
                << "\n";
}

int print_sheet(const base::StationResult& ready, Console& console) {
  console.out << fmt::format("ready: {}\n", base::to_text(ready.verdict));
  for (const auto& [key, value] : ready.values)
    if (const auto* rows = std::get_if<std::vector<base::Row>>(&value.value)) print_rows(key, *rows, console);
  console.out << "\n";
  for (const base::Finding& finding : ready.findings) {
    if (finding.verdict == base::Verdict::pass || finding.id.starts_with("missing_")) continue;
    console.out << wrapped(fmt::format("{}: {}", base::to_text(finding.verdict), finding.text), 2) << "\n";
    if (!finding.next.empty()) console.out << "  " << wrapped(finding.next, 2) << "\n";
  }
  console.out << "caution: a moving bridge crushes. Drives off and locked out while hands are in the machine; local "
                 "codes and the machine's own risk assessment come first.\n";
  return workflow::exit_code(ready.verdict);
}

}  // namespace

int run_ready(const JobOptions& options, bool sheet, Console& console) {
  base::RealDisk disk;
  const workflow::Places places = places_of(options);
  if (!sheet) {
    const base::StationOutcome ready = workflow::look_at_ready(disk, places, ProgressLine(console));
    if (!options.json) return print_sheet(ready.result, console);
    console.out << journal::to_text(journal::Result{.job = options.folder, .stations = {ready.result}});
    return workflow::exit_code(ready.result.verdict);
  }
  const workflow::SheetWritten done = workflow::write_ready_sheet(disk, places);
  if (options.json)
    console.out << base::to_text(base::Json{{"file", done.path}, {"fresh", done.fresh}, {"complete", done.complete}})
                << "\n";
  else
    console.out << fmt::format("{}: {}\nnext: fill it in, drives off and locked out; then evenbeam ready {}\n",
                               done.path,
                               done.fresh      ? "written, every line still empty"
                               : done.complete ? "has every line already, left as it is"
                                               : "the lines that it lacked stand at its end",
                               options.folder);
  return 0;
}

}  // namespace evenbeam::cli
