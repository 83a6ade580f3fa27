#pragma once
// A simulated capture as a file in one of the forms that the importer reads, and its entry in recordings.toml
// (docs/formats.md). Time in s, places in mm to a quarter of a count, outputs in % of peak force to 1e-4.
#include <optional>
#include <string>

#include "rehearsal/captures.h"

namespace evenbeam::rehearsal {

enum class FileForm { comma, semicolon, tab };  // semicolon: with decimal comma and byte-order mark
std::optional<FileForm> file_form_of(const std::string& text);

std::string capture_text(const SimulatedCapture& capture, const VirtualMachine& machine, FileForm form);
// [loops.NAME] with the settings, and [files."NAME"].
std::string loops_text(const std::string& name, const machine::Settings& settings);
std::string entry_text(const SimulatedCapture& capture);

}  // namespace evenbeam::rehearsal
