#pragma once
// How far the record is valid again after a repair: the list of `next --after` held against what the job holds now
// and what it held at the last evaluation before the repair. A capture counts as made again where a file of its kind
// is new since then; a line of the check sheet where it says `after` with the repair's name and is good; a parameter
// set where its text is another file than before and no difference holds back a push. Captures from before whose
// numbers stand on a fact in doubt must be taken out (`skip`). Then every station on the list must answer without a
// stop.
#include <string>
#include <vector>

#include "base/files.h"
#include "exporting/redo.h"
#include "journal/record.h"
#include "workflow/evaluate.h"

namespace evenbeam::workflow {

struct Redone {
  std::string capture;
  bool done = false;
  std::string words;  // which files or lines, or what is missing
};

struct AfterRepair {
  exporting::RedoPlan plan;
  std::vector<Redone> captures;         // in the plan's order
  std::vector<std::string> outdated;    // files from before that still count and must not
  std::vector<std::string> unanswered;  // stations of the plan that do not answer, or stop
  std::vector<std::string> faulty;      // stations that a fault of the program ended
  bool valid = false;
};

AfterRepair after_repair(const std::string& repair, const Evaluation& now, const readiness::Sheet& sheet,
                         const journal::Result& before);
// The job as it stands, against the evaluation of the journal's entry `since`. InputError where there is none.
AfterRepair look_after_repair(const base::Disk& disk, const Places& places, const std::string& repair, long since,
                              const Progress& progress);

}  // namespace evenbeam::workflow
