#pragma once
// `simulate`: captures from the virtual gantry as a job folder of their own: machine.toml (the job's, as it is),
// recordings/, recordings.toml, and beside them truth.json, which nothing reads but people and checks (format
// evenbeam.truth/1, docs/formats.md). Same job, seed and takes: same bytes. Never writes into a folder that exists.
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "rehearsal/capture_file.h"
#include "workflow/virtual_job.h"

namespace evenbeam::workflow {

struct SimulateRequest {
  Places places;
  std::string into;                    // empty: simulated-SEED in the job folder
  std::vector<rehearsal::Take> takes;  // empty: all of them
  std::uint64_t seed = 1;
  rehearsal::FileForm form = rehearsal::FileForm::comma;
  std::vector<rehearsal::Defects> defects;  // what is broken on the virtual machine; truth.json names it
};

struct SimulatedFile {
  std::string file, what;
  double seconds = 0;
  std::optional<double> peak_skew_m;  // true skew away from stress-free; empty where there is no bridge
};

struct Simulated {
  std::string folder, truth;  // paths
  bool fitted = false;
  std::vector<std::string> assumed;
  std::vector<SimulatedFile> files;
};
// machine.toml is written last: a folder without it is a run that was cut off.
Simulated simulate(base::Disk& disk, const SimulateRequest& request, const Progress& progress);

}  // namespace evenbeam::workflow
