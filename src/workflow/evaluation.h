#pragma once
// One evaluation of a job: what every station said, and what the person has set against it.
#include <optional>
#include <string>
#include <vector>

#include "base/figure.h"
#include "journal/result_file.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "recording/recording.h"

namespace evenbeam::workflow {

// A person's decision to go on in spite of a stop. It covers the stop findings that were there when it was made; a
// new one at the same station is not covered.
struct Override {
  std::string station, reason, by;
  std::vector<std::string> findings;  // ids of the stop findings covered
};

struct Evaluation {
  std::string job;
  machine::Machine machine;
  std::vector<recording::Recording> recordings;
  std::vector<journal::InputFile> inputs;
  std::vector<base::StationOutcome> stations;  // "recordings" first, then the line of work
  std::optional<machine::Settings> settings;   // proposed
  std::vector<Override> overrides;             // those in force
};

journal::Result result_of(const Evaluation& evaluation);
const base::StationResult* find_station(const Evaluation& evaluation, const std::string& name);

}  // namespace evenbeam::workflow
