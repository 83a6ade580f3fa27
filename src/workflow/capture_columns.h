#pragma once
// Asking about one capture in place: what its columns are called and seem to be, and the person's answer written into
// recordings.toml as an entry of its own. An entry that the program guessed is replaced by the answer; one that a
// person wrote is never touched here.
#include <optional>
#include <string>
#include <vector>

#include "base/files.h"
#include "workflow/job.h"

namespace evenbeam::workflow {

struct ColumnSeen {
  std::string name;                // of the header; "column 3" where there is none
  std::string role, unit;          // as planned or guessed; "?" and "" where nobody said
  std::vector<std::string> first;  // cells of the first rows, as they stand
};
struct CaptureSeen {
  std::string file, kind;           // kind: as stated or recognised; "unknown" else
  std::string trouble;              // why it cannot be read as it stands; empty: it can
  bool by_person = false;           // recordings.toml has an entry that is no guess
  std::vector<ColumnSeen> columns;  // empty where the file is no table
  std::optional<double> carriage_y_m, payload_kg;
};
CaptureSeen look_at_capture(const base::Disk& disk, const Places& places, const std::string& file);

struct CaptureAnswer {
  std::string file;
  std::string kind;                  // "" or "unknown": leave it to be recognised
  std::vector<std::string> columns;  // "position_a um", one for each column
  std::optional<double> carriage_y_m, payload_kg;
  std::string seen_sha256;  // of recordings.toml when it was looked at; of "" where it was not there
};
// False where recordings.toml has changed meanwhile; then nothing is written. InputError where the answer does not
// make the capture readable, or a person's own entry stands there.
bool keep_answer(base::Disk& disk, const Places& places, const CaptureAnswer& answer);

}  // namespace evenbeam::workflow
