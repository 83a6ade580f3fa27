#pragma once
// What one evaluation leaves for the next, so that only what changed is done again: imports by file, the common
// identification, and each station's answer, every one under the key of all it was made from. A station sees nothing
// that its row does not name (run_station.h), so equal keys mean equal answers, byte for byte. Memory: the captures
// once more.
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "identification/identify.h"
#include "recording/import.h"
#include "workflow/stations.h"

namespace evenbeam::workflow {

// Known by the file's bytes, its entry in recordings.toml and machine.toml.
struct KeptImport {
  std::string machine_sha256, sha256;
  std::optional<recording::RecordingPlan> plan;
  recording::ImportResult result;
  long number = 0;  // of this import; another one of the same file has another
};

// What a station leaves on the bench beside its outcome.
struct Left {
  std::optional<machine::Settings> settings;
  std::optional<homing::SearchRecipe> search;
  std::vector<tuning::MoveForecast> proposed_loops, own_loops;
};

struct KeptAnswer {
  std::string key;
  base::StationOutcome outcome;
  Left left;
};

struct Kept {
  std::map<std::string, KeptImport> imports;  // by file name
  long imports_made = 0;
  std::string identified_key;
  std::optional<identification::Identified> identified;
  std::map<std::string, KeptAnswer> answers;  // by station
  long answers_made = 0;                      // how many stations had to answer so far
};

}  // namespace evenbeam::workflow
