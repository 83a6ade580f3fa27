#pragma once
// A job is a folder (docs/formats.md): machine.toml, recordings/, recordings.toml, journal.sqlite, results/.
// Inputs are read, never changed. With a results folder of its own a job may lie on a read-only disk: then everything
// that is written, the journal included, goes there.
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "acceptance/positioning_file.h"
#include "base/files.h"
#include "journal/result_file.h"
#include "machine/machine.h"
#include "readiness/ready_file.h"
#include "recording/recording.h"
#include "rehearsal/rules.h"
#include "squareness/squareness_file.h"

namespace evenbeam::workflow {

struct Places {
  std::string job;               // the folder as the person named it
  std::string machine;           // job/machine.toml
  std::string recordings;        // folder of captures
  std::string recordings_toml;   // job/recordings.toml
  std::string rehearsal_toml;    // job/rehearsal.toml: corrections to the table of rules, where it is
  std::string positioning_toml;  // job/positioning.toml: tables of a laser or a scale, where it is
  std::string squareness_toml;   // job/squareness.toml: how square it was measured, where it is
  std::string ready_toml;        // job/ready.toml: what was checked before the first push, where it is
  std::string results;
  std::string journal;
  bool recordings_named = false;
  bool apart = false;  // results were asked for elsewhere; the job folder is left untouched
};
Places places_of(const std::string& job, const std::optional<std::string>& recordings = {},
                 const std::optional<std::string>& results = {});

// What the person is told while it takes long; one short line.
using Progress = std::function<void(const std::string&)>;

// A capture that could not be read: its message, while the others count.
struct BrokenRecording {
  std::string file, message;
  bool units_only = false;  // a table of which nothing but units is missing
};

// A file that was left out on purpose, and why.
struct LeftOut {
  std::string file, reason;
};

struct Job {
  std::string name;  // the machine's, else the folder's
  machine::Machine machine;
  bool machine_untouched = false;  // machine.toml is still the template: its span is an example
  std::vector<recording::Recording> recordings;
  std::vector<acceptance::PositioningTable> positioning;  // tables of a laser or a scale
  rehearsal::RuleTable rules;                             // common practice, corrected by the job
  squareness::Sheet squareness;
  readiness::Sheet ready;
  std::vector<long> imports;  // of the recordings, where imports are kept: the same number, the same import
  std::vector<BrokenRecording> broken;
  std::vector<LeftOut> left_out;
  std::vector<journal::InputFile> inputs;   // machine.toml, the other .toml where they are, then the captures
  std::optional<std::string> guessed_toml;  // a recordings.toml to be written for the person to confirm
};

struct Kept;

// Captures are read side by side on as many threads as the machine has; the order of the result is that of the file
// names. InputError where one of the .toml files is wrong, or a recordings folder that was named is not
// there. With `kept` only captures that changed, or whose entry or machine did, are read anew.
Job load_job(const base::Disk& disk, const Places& places, const Progress& progress, Kept* kept = nullptr);

}  // namespace evenbeam::workflow
