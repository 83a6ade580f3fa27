#pragma once
// What one evaluation leaves for the next, so that only what changed is done again: imports by file, the common
// identification, and each station's answer, every one under the key of all it was made from. A station sees nothing
// that its row does not name (run_station.h), so equal keys mean equal answers, byte for byte. Memory: the captures
// once more, unless an evaluation that lives on lends its own (share_captures).
#include <map>
#include <memory>
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
  long number = 0;    // of this import; another one of the same file has another
  bool lent = false;  // its recording is empty here and stands among Kept::lent under the file's name
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
  std::shared_ptr<const std::vector<recording::Recording>> lent;
  std::string identified_key;
  std::optional<identification::Identified> identified;
  std::map<std::string, KeptAnswer> answers;  // by station
  long answers_made = 0;                      // how many stations had to answer so far
};

// From now on the captures of an evaluation stand in for the imports' own.
void share_captures(Kept& kept, std::shared_ptr<const std::vector<recording::Recording>> of_evaluation);
// The kept import as it was made; nullopt where the one who lent its recording has it no more.
std::optional<recording::ImportResult> import_of(const Kept& kept, const std::string& file, const KeptImport& known);

}  // namespace evenbeam::workflow
