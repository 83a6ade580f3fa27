#pragma once
// What leaves the program for other systems: the proposed settings in every form. Written into results/ by a
// commission, printed or written by `evenbeam export`. Where there are no settings, `lacking` says why.
#include <string>
#include <vector>

#include "exporting/settings_sheet.h"
#include "workflow/evaluation.h"

namespace evenbeam::workflow {

struct Exports {
  std::vector<exporting::SettingsForm> forms;
  std::string settings_st;  // the loop law with these numbers, structured text
  std::string search_st;    // the reference search, structured text; empty where it is not promised
  std::vector<std::string> lacking;
};
Exports exports_of(const Evaluation& evaluation);
// From a settings.toml alone, in the scaling of the machine.
Exports exports_of(const machine::Settings& settings, const machine::Machine& machine);

// What --form may name: the settings' forms, then "st" and "search".
std::vector<std::string> export_forms();
// One of them as text. InputError where there is no form of that name, empty where it cannot be made.
std::string export_text(const Exports& exports, const std::string& form);

struct ExportFile {
  std::string name, content;
};
std::vector<ExportFile> export_files(const Exports& exports);  // names inside results/

}  // namespace evenbeam::workflow
