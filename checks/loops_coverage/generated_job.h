#pragma once
// A machine of demo/generator, which shares no code with the program, its campaign recorded and read back.
#include <optional>
#include <string>
#include <vector>

#include "job_files.h"
#include "machine/machine.h"
#include "machines.h"
#include "recording/recording.h"

namespace evenbeam::checks {

struct GeneratedJob {
  generator::Campaign campaign;
  std::vector<generator::PlannedCapture> captures;
  std::vector<double> peak_skew_error_m;  // of each capture, as recorded
  machine::Machine machine;
  std::vector<recording::Recording> recordings;
};
// nullopt: left out by the generator.
std::optional<GeneratedJob> generated_job(unsigned long seed);

double peak_skew_error_m(const generator::Capture& capture);

}  // namespace evenbeam::checks
