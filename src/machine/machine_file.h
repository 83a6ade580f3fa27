#pragma once
// machine.toml into Machine (format evenbeam.machine/1, docs/formats.md). Only `span` must be there; what is absent
// stays unknown. Everything wrong in the file is in one InputError: unknown keys, wrong units, implausible or
// contradicting values, each with line, column, what was expected and a right example.
#include <string>

#include "machine/machine.h"

namespace evenbeam::machine {

// `file_name` is what messages call the file. Throws base::InputError.
Machine read_machine(const std::string& text, const std::string& file_name);

}  // namespace evenbeam::machine
