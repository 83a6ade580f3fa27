#include "workflow/exports.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/input_error.h"
#include "exporting/search_text.h"
#include "exporting/structured_text.h"

namespace evenbeam::workflow {
namespace {

constexpr double kSearchCycle_s = 1e-3;  // a usual task for sequences; common practice, no source

// Why there are no settings, in the words of the station that would propose them.
std::string why_no_settings(const Evaluation& evaluation) {
  std::string why = "There are no proposed settings";
  if (const base::StationResult* loops = find_station(evaluation, "loops"))
    for (const base::Finding& finding : loops->findings)
      if (finding.verdict == loops->verdict)
        return fmt::format("{}. Station loops: {} {}", why, finding.text, finding.next);
  return why + ": station loops has not run.";
}

}  // namespace

Exports exports_of(const machine::Settings& settings, const machine::Machine& machine) {
  Exports out;
  out.forms = exporting::settings_forms(settings, machine);
  out.settings_st = exporting::loop_law_text(settings, machine);
  return out;
}

Exports exports_of(const Evaluation& evaluation) {
  Exports out;
  if (evaluation.settings)
    out = exports_of(*evaluation.settings, evaluation.machine);
  else
    out.lacking.push_back(why_no_settings(evaluation));
  if (!evaluation.search) {
    out.lacking.push_back("No search program: station marks planned no search.");
    return out;
  }
  exporting::SearchText search = exporting::search_text(*evaluation.search, evaluation.machine, kSearchCycle_s);
  out.search_st = std::move(search.text);
  if (!search.lacking.empty()) out.lacking.push_back(std::move(search.lacking));
  return out;
}

std::vector<std::string> export_forms() {
  std::vector<std::string> names = exporting::form_names();
  names.push_back("st");
  names.push_back("search");
  return names;
}

std::string export_text(const Exports& exports, const std::string& form) {
  const std::vector<std::string> known = export_forms();
  if (std::find(known.begin(), known.end(), form) == known.end())
    throw base::InputError({.file = "--form " + form,
                            .found = "no form of that name",
                            .expected = fmt::format("one of {}", fmt::join(known, ", ")),
                            .next = "Right: --form percent."});
  if (form == "st") return exports.settings_st;
  if (form == "search") return exports.search_st;
  for (const exporting::SettingsForm& one : exports.forms)
    if (one.form == form) return exporting::to_text(one);
  return "";
}

std::vector<ExportFile> export_files(const Exports& exports) {
  std::vector<ExportFile> files;
  if (!exports.forms.empty()) {
    std::string all;
    for (const exporting::SettingsForm& form : exports.forms)
      all += (all.empty() ? "" : "\n") + exporting::to_text(form);
    files.push_back({"settings_forms.txt", all});
  }
  if (!exports.settings_st.empty()) files.push_back({"settings.st", exports.settings_st});
  if (!exports.search_st.empty()) files.push_back({"search.st", exports.search_st});
  return files;
}

}  // namespace evenbeam::workflow
