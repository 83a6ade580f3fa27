#pragma once
// The front door of this room: the bytes of one foreign file in, one Recording out, or base::InputError with every
// question and trouble at once. Memory: the raw columns and the recording, about 16 bytes a cell; see kMostCells.
#include <functional>
#include <string>
#include <string_view>

#include "machine/machine.h"
#include "recording/plan.h"
#include "recording/recording.h"
#include "recording/table.h"

namespace evenbeam::recording {

struct ImportResult {
  Recording recording;
  RecordingPlan plan;  // as used: columns, units and kind filled in; `guessed` where the person stated none
};

// `plan` = the file's entry in recordings.toml, nullptr where there is none.
ImportResult import_recording(const std::string& file_name, std::string_view bytes, const RecordingPlan* plan,
                              const machine::Machine& machine);
// The same of a file too large to hold, and of a table already read; recording.sha256 stays empty.
ImportResult import_recording(const std::string& file_name, const base::ByteSource& source, const RecordingPlan* plan,
                              const machine::Machine& machine);
ImportResult import_table(const std::string& file_name, Table table, const RecordingPlan* plan,
                          const machine::Machine& machine);

}  // namespace evenbeam::recording
