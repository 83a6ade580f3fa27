#pragma once
// The settings in every form a controller may ask for, as plain tables. One law, one set of numbers
// (machine::Settings, commanded newtons), and a scale for each form: lengths, times and forces in the form's units,
//   shown = SI value x length^-l x time^-t x force^-f     with l, t, f the powers in which the setting carries them.
// The scales come from machine.toml: count, peak_force, full_output, the user's units; the period from the settings.
// In every scaled form the law stays as docs/loop-law.md states it. Where the sides' counts or peak forces differ,
// A's are the form's units, and one factor for B's position or output is given. A scale that machine.toml does not
// know leaves the values unknown, with the key that would settle it.
#include <optional>
#include <string>
#include <vector>

#include "machine/machine.h"
#include "machine/settings.h"

namespace evenbeam::exporting {

struct SheetRow {
  std::string key;     // as in result.json and settings.toml, with an index for list entries
  std::string symbol;  // as in docs/loop-law.md
  std::string name;    // in words
  std::optional<double> value;
  std::string unit;
  std::string how;  // how it is computed; where unknown: what would settle it
};

struct SettingsForm {
  std::string form;   // "si", "percent", ...: the word of --form
  std::string title;  // in words
  std::vector<std::string> remarks;
  std::vector<SheetRow> rows;
};

// si, user, percent, ampere, counts, cycle, pi, sides; in this order, all of them always.
std::vector<SettingsForm> settings_forms(const machine::Settings& settings, const machine::Machine& machine);
const std::vector<std::string>& form_names();

std::string to_text(const SettingsForm& form);
// {"format": "evenbeam.forms/1", "forms": [...]}, docs/formats.md.
std::string to_json_text(const std::vector<SettingsForm>& forms);

// The scaled forms beside each other, one line a setting: for a report. Cells are text, "" where a form lacks the
// row; ampere only where it is known, and without what stands in one form alone.
struct Comparison {
  std::vector<std::string> heads;
  std::vector<std::vector<std::string>> rows;
};
Comparison beside_each_other(const std::vector<SettingsForm>& forms);

}  // namespace evenbeam::exporting
