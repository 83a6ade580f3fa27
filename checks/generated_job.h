#pragma once
// A machine of demo/generator, which shares no code with the program, its campaign recorded and read back.
#include <optional>
#include <string>
#include <vector>

#include "job_files.h"
#include "machine/machine.h"
#include "machines.h"
#include "recording/plan_file.h"
#include "recording/recording.h"

namespace evenbeam::checks {

// What makes a job poorer than the generator's.
struct Poorer {
  std::string without;  // captures whose names begin so were not made yet: "07,08"
  int periods = 0;      // that the multisines last; 0: the generator's
};

struct GeneratedJob {
  generator::Campaign campaign;
  std::vector<generator::PlannedCapture> captures;
  std::vector<recording::RecordingPlan> plans;  // of each capture
  std::vector<double> peak_skew_error_m;        // of each capture, as recorded
  machine::Machine machine;
  std::vector<recording::Recording> recordings;
};
// nullopt: left out by the generator.
std::optional<GeneratedJob> generated_job(unsigned long seed, const Poorer& poorer = {});

double peak_skew_error_m(const generator::Capture& capture);

}  // namespace evenbeam::checks
