// The whole job, from files to verdicts and settings, in seconds and beside numpy doing only the frequency response
// of the same two multisine recordings. Runs on the demo's job; a job folder given as argument (with --recordings
// DIR) is measured instead.
#include <fmt/format.h>

#include <chrono>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "base/files.h"
#include "base/process.h"
#include "goal.h"
#include "recording/recording.h"
#include "workflow/evaluate.h"
#include "workflow/job.h"
#include "workflow/stations.h"

using namespace evenbeam;

namespace {

double seconds_since(std::chrono::steady_clock::time_point start) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

// Seconds numpy took; 0 where it could not be asked.
double numpy_seconds(const std::string& folder, const std::vector<const recording::Recording*>& pair) {
  // Debian's own first: that is where its numpy lives.
  const std::string python = std::filesystem::exists("/usr/bin/python3") ? "/usr/bin/python3" : "python3";
  if (pair.size() < 2) return 0;
  const long samples = std::lround(pair[0]->first_period_s / pair[0]->period_s);
  const auto run = base::run_process(
      python,
      {std::string(EVENBEAM_BENCH_DIR) + "/response_numpy.py", base::join_path(folder, pair[0]->name),
       base::join_path(folder, pair[1]->name), std::to_string(samples)},
      120);
  return run.exit_code == 0 ? std::atof(run.output.c_str()) : 0;
}

}  // namespace

int main(int count, char** arguments) {
  const std::string folder = count > 1 ? arguments[1] : std::string(EVENBEAM_BENCH_DIR) + "/../demo/job";
  const std::string recordings = count > 3 && std::string(arguments[2]) == "--recordings" ? arguments[3] : "";
  const workflow::Places places =
      workflow::places_of(folder, recordings.empty() ? std::nullopt : std::optional(recordings));
  const base::RealDisk disk;
  const auto quiet = [](const std::string&) {};
  double best_load = 1e9, best_stations = 1e9;
  workflow::Evaluation evaluation;
  for (int k = 0; k < 3; ++k) {
    auto start = std::chrono::steady_clock::now();
    workflow::Job job = workflow::load_job(disk, places, quiet);
    best_load = std::min(best_load, seconds_since(start));
    start = std::chrono::steady_clock::now();
    evaluation = workflow::evaluate(std::move(job), workflow::stations(), quiet);
    best_stations = std::min(best_stations, seconds_since(start));
  }
  std::vector<const recording::Recording*> pair;
  for (const auto& r : evaluation.recordings)
    if (r.kind == recording::RunKind::multisine) pair.push_back(&r);
  const double numpy = numpy_seconds(places.recordings, pair);
  fmt::print("commission of {} ({} recordings): {:.2f} s reading, {:.2f} s stations, best of 3, report not counted\n",
             evaluation.job, evaluation.recordings.size(), best_load, best_stations);
  if (numpy > 0)
    fmt::print("numpy, frequency response of two of them alone: {:.4f} s; whole job is {:.0f} times that\n", numpy,
               (best_load + best_stations) / numpy);
  else
    fmt::print("numpy was not found: no reference\n");
  bench::tell_goal("job", "whole evaluation / 3 s", (best_load + best_stations) / 3, bench::Goal::at_most, 1);
  return 0;
}
