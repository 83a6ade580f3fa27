#pragma once
// One station at work. It is lent what its row of stations.cpp names - captures of some kinds, the sheets, what the
// captures tell together, the results of the stations it uses - and sees nothing else; so the hash of just that is
// the key of its answer.
#include <map>
#include <string>

#include "workflow/job.h"
#include "workflow/kept.h"

namespace evenbeam::workflow {

// Keys of this evaluation's inputs, and of the answers so far.
struct Keys {
  std::string machine, sheets;
  std::map<std::string, std::string> captures;  // by name
  std::map<std::string, std::string> answers;   // by station
};
Keys keys_of(const Job& job);

// Runs it, or takes the kept answer where all it would be lent is the same; its result joins bench.done. A fault of
// the program ends it alone (base/program_fault.h), and those that use it unless they do without.
base::StationOutcome run_station(const Station& station, Bench& bench, Keys& keys, Kept& kept,
                                 const Progress& progress);

}  // namespace evenbeam::workflow
