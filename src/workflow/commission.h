#pragma once
// The main job: evaluate, keep the record, write the results. The journal comes first: a result without its entry
// cannot be, an entry whose results were lost can (they are made again by the next run).
#include <optional>
#include <string>
#include <vector>

#include "base/files.h"
#include "workflow/evaluate.h"
#include "workflow/next_step.h"

namespace evenbeam::workflow {

struct OverrideRequest {
  std::string place;  // "trips": every stop of the station; "ready.rail_height": that finding alone
  std::string reason;
};

struct CommissionRequest {
  Places places;
  std::string program;                       // "evenbeam 0.1.0"
  std::string time;                          // UTC now, by the front door's clock
  std::optional<OverrideRequest> override_;  // asked for in this run
  bool accept = false;                       // accept the proposed settings
  std::string settings_read;                 // SHA-256 of the settings that were read; others are not accepted.
                                             // Empty: whatever is proposed
  std::string by;                            // who overrides or accepts
  std::string browser;                       // prints the report to PDF; empty where none is installed
  bool letter = false;                       // paper of the report: US letter instead of A4
};

struct Commissioned {
  Evaluation evaluation;
  NextStep next;
  std::vector<std::string> files;    // written, in order
  std::string report;                // path of the report to open; empty where none
  std::vector<std::string> remarks;  // what could not be done and why
  long entry = 0;                    // number of the journal entry of this evaluation
  std::string accepted_by;           // who accepted exactly these settings, now or before; empty where nobody
};

// InputError where the override names a station without a stop, besides what reading and writing can throw.
Commissioned commission(base::Disk& disk, const CommissionRequest& request, const std::vector<Station>& line,
                        const Progress& progress, Kept* kept = nullptr);

// report.pdf beside the report, by the browser named in the request; adds to done.files or, where there is none, to
// done.remarks. Apart, because a browser takes longer than all stations: what they found need not wait for it.
void print_report(const CommissionRequest& request, Commissioned& done);

// Who accepted exactly the settings of this evaluation; empty where nobody.
std::string accepted_by(const Places& places, const Evaluation& evaluation);
std::string settings_sha256(const Evaluation& evaluation);  // empty where there are none

// The report alone, made anew from the job as it stands; no journal entry.
Commissioned report_only(base::Disk& disk, const CommissionRequest& request, const std::vector<Station>& line,
                         const Progress& progress);

// The job as it stands, with the overrides of its journal; writes nothing.
Evaluation look_at(const base::Disk& disk, const Places& places, const std::vector<Station>& line,
                   const Progress& progress, Kept* kept = nullptr, const SoFar& so_far = {});

}  // namespace evenbeam::workflow
