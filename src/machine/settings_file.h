#pragma once
// Settings of the loop law as text, in the table [loops] of recordings.toml and in results/settings.toml
// (format evenbeam.settings/1, docs/formats.md). Units stand in the values; numbers read back to the bit.
#include <string>

#include "machine/settings.h"

namespace evenbeam::machine {

class TableReader;

// Reads the keys of settings from a table and closes it; absent keys keep the value of `start`. Troubles collect in
// the reader; throw_if_any() of machine/toml_reader.h throws them.
Settings read_settings_table(TableReader& table, const Settings& start = {});

// A whole settings.toml. Period, peak forces and the velocity gain of the mean must be there. Throws
// base::InputError.
Settings read_settings(const std::string& text, const std::string& file_name);

// The text of settings.toml. Throws base::Bug where a number is not finite.
std::string write_settings(const Settings& settings);

}  // namespace evenbeam::machine
