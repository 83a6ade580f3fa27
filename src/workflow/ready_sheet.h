#pragma once
// The check sheet of a job by itself, without an evaluation: to be written, and to be looked at while it is filled
// in.
#include <optional>
#include <string>

#include "base/figure.h"
#include "base/files.h"
#include "workflow/job.h"

namespace evenbeam::workflow {

struct SheetWritten {
  std::string path;
  bool fresh = false;     // there was none before
  bool complete = false;  // it had every line already; nothing was written
};
// Writes ready.toml from machine.toml, or puts the lines that it lacks behind its end. What a person wrote stays byte
// for byte.
SheetWritten write_ready_sheet(base::Disk& disk, const Places& places);

// Station `ready` alone.
base::StationOutcome look_at_ready(const base::Disk& disk, const Places& places, const Progress& progress);

}  // namespace evenbeam::workflow
