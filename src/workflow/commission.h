#pragma once
// The main job: evaluate, write the results, write the journal.
#include <optional>
#include <string>
#include <vector>

#include "base/files.h"
#include "workflow/evaluate.h"
#include "workflow/next_step.h"

namespace evenbeam::workflow {

struct CommissionRequest {
  Places places;
  std::string program;                // "evenbeam 0.1.0"
  std::string time;                   // UTC now, by the front door's clock
  std::optional<Override> override_;  // asked for in this run; `findings` is filled here
  bool accept = false;                // accept the proposed settings
  std::string by;                     // who overrides or accepts
};

struct Commissioned {
  Evaluation evaluation;
  NextStep next;
  std::vector<std::string> files;    // written, in order
  std::string report;                // path of the report to open; empty where none
  std::vector<std::string> remarks;  // what could not be done and why, e.g. no PDF
  long entry = 0;                    // number of the journal entry of this evaluation
};

Commissioned commission(base::Disk& disk, const CommissionRequest& request, const Progress& progress);

}  // namespace evenbeam::workflow
