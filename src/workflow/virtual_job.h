#pragma once
// The job's machine as the virtual gantry takes it: fitted where the captures allow it, else from the papers. For
// `rehearse` and `simulate`; asks only the stations that these stand on.
#include "rehearsal/rehearse_station.h"
#include "workflow/job.h"

namespace evenbeam::workflow {

struct VirtualJob {
  std::string name;
  machine::Machine machine;
  rehearsal::RehearseInput input;  // table of rules, limits, proposed settings
  rehearsal::VirtualMachine gantry;
};
// InputError as load_job, where machine.toml is still the template, and where the machine's topology is not in the
// virtual gantry.
VirtualJob virtual_job(const base::Disk& disk, const Places& places, const Progress& progress);

}  // namespace evenbeam::workflow
