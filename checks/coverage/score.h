#pragma once
// One machine's fit scored against its truth: error, half-width of the 95 % interval, and whether it holds the truth.
// Errors are relative to the truth, save where the scale says otherwise (skews and marks in m, shares as numbers).
#include <string>
#include <vector>

#include "../demo_job.h"

namespace evenbeam::checks {

struct Score {
  std::string key;
  bool told = false;  // false: the fit said that these recordings do not tell
  double error = 0, half_width = 0;
  bool has_interval = false, inside = false;
};

struct ScoredMachine {
  unsigned long seed = 0;
  std::string reason;       // empty: fitted
  std::string no_response;  // why the response was not fitted; empty: it was
  double bandwidth_hz = 0, within = 0;
  std::vector<Score> scores;
};

ScoredMachine score(const DemoJob& job);

}  // namespace evenbeam::checks
