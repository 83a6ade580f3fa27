#pragma once
// recordings.toml (format evenbeam.recordings/1, docs/formats.md): what each file of the job is. Read strictly: all
// troubles in one base::InputError with line and column. Written only by appending what the program guessed about
// files it does not yet name, so that nothing the person wrote is ever changed.
#include <string>
#include <vector>

#include "recording/plan.h"

namespace evenbeam::recording {

struct PlanFile {
  RecordingPlan all;                 // table [all]: holds where a file's own entry says nothing
  std::vector<RecordingPlan> files;  // tables [files."NAME"], `all` already taken over
};

// `file_name` as the person knows it, for messages ("recordings.toml").
PlanFile read_plan_file(const std::string& text, const std::string& file_name);

// The file's own entry, else one made of [all] alone.
RecordingPlan plan_for(const PlanFile& plans, const std::string& recording);

// The text of a recordings.toml with entries for the plans whose files `existing` does not name, `guess = true` in
// each; `existing` may be empty. Throws base::InputError where `existing` cannot be read.
std::string with_guesses(const std::string& existing, const std::vector<RecordingPlan>& plans,
                         const std::string& file_name);

// The text with an entry for `plan` that counts as the person's own. An entry that the program guessed, and in which
// nobody has written since what it cannot guess, is replaced; any other entry of that file is refused by
// base::InputError, as is a text that cannot be read.
std::string with_answer(const std::string& existing, const RecordingPlan& plan, const std::string& file_name);
// Whether the file has an entry that with_answer would refuse.
bool is_persons_own(const PlanFile& plans, const std::string& recording);

}  // namespace evenbeam::recording
