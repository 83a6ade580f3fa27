#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/input_error.h"
#include "base/json.h"
#include "cli/commands.h"
#include "cli/overview.h"
#include "cli/places.h"
#include "machine/machine_file.h"
#include "machine/settings_file.h"
#include "workflow/commission.h"
#include "workflow/exports.h"

namespace evenbeam::cli {
namespace {

// `fault` is set where a fault of the program ended a station on the way.
workflow::Exports exports_for(const ExportOptions& options, const base::Disk& disk, Console& console, bool& fault) {
  const workflow::Places places = places_of(options.job);
  if (!options.settings) {
    const workflow::Evaluation evaluation =
        workflow::look_at(disk, places, workflow::stations(), ProgressLine(console));
    fault = ended_with(evaluation, console) == kExitBug;
    return workflow::exports_of(evaluation);
  }
  const machine::Settings settings = machine::read_settings(disk.read(*options.settings), *options.settings);
  return workflow::exports_of(settings, machine::read_machine(disk.read(places.machine), places.machine));
}

// JSON of one form or of all; "st" as text in a member.
std::string json_text(const workflow::Exports& exports, const std::optional<std::string>& form) {
  if (form == "st" || form == "search")
    return base::to_text(base::Json{{"form", *form}, {"text", workflow::export_text(exports, *form)}});
  std::vector<exporting::SettingsForm> chosen;
  for (const exporting::SettingsForm& one : exports.forms)
    if (!form || one.form == *form) chosen.push_back(one);
  return exporting::to_json_text(chosen);
}

void write_all(const workflow::Exports& exports, const workflow::Places& places, base::Disk& disk, Console& console) {
  disk.make_folder(places.results);
  for (const workflow::ExportFile& file : workflow::export_files(exports)) {
    const std::string path = base::join_path(places.results, file.name);
    disk.write(path, file.content);
    console.out << "written: " << path << "\n";
  }
}

}  // namespace

int run_export(const ExportOptions& options, Console& console) {
  base::RealDisk disk;
  if (options.form) workflow::export_text({}, *options.form);  // a wrong name is told before the long work
  bool fault = false;
  const workflow::Exports exports = exports_for(options, disk, console, fault);
  for (const std::string& lack : exports.lacking) console.err << "note: " << wrapped(lack, 6) << "\n";
  const bool empty = options.form ? workflow::export_text(exports, *options.form).empty()
                                  : exports.forms.empty() && exports.search_st.empty();
  std::string text;
  if (options.job.json)
    text = json_text(exports, options.form) + "\n";
  else if (options.form)
    text = workflow::export_text(exports, *options.form);
  if (options.to && !text.empty() && !empty) {
    disk.write(*options.to, text);
    console.err << "written: " << *options.to << "\n";
  } else if (!text.empty()) {
    console.out << text;
  } else if (!options.form) {
    write_all(exports, places_of(options.job), disk, console);
  }
  if (fault) return kExitBug;
  return empty ? 1 : 0;
}

}  // namespace evenbeam::cli
