#pragma once
// What the stations stand around: the machine's description, the captures that could be read, and what one station
// leaves for the next. Only workflow knows this struct; a consulting room takes the parts it needs as arguments.
#include <optional>
#include <string>
#include <vector>

#include "acceptance/positioning_file.h"
#include "base/finding.h"
#include "homing/search_recipe.h"
#include "identification/identify.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "readiness/ready_file.h"
#include "recording/recording.h"
#include "rehearsal/rules.h"
#include "squareness/squareness_file.h"
#include "tuning/move_forecast.h"

namespace evenbeam::workflow {

struct Bench {
  machine::Machine machine;
  std::vector<recording::Recording> recordings;  // in the order of their file names
  rehearsal::RuleTable rules = rehearsal::common_practice();
  std::vector<acceptance::PositioningTable> positioning;  // of positioning.toml, where the job has one
  squareness::Sheet squareness;           // what was measured of the right angle; empty where nothing was
  readiness::Sheet ready;                 // what was checked before the first push; empty where nothing was
  std::vector<base::StationResult> done;  // of the stations that have run, in that order
  // Left by a station for those that come after it; empty where it found none.
  std::optional<identification::Identified> identified;  // what the captures tell of the machine; asked for once
  std::optional<std::string> identify_fault;             // of the program, that keeps it unknown; lent to no station
  std::optional<machine::Settings> settings;             // by loops: the settings proposed
  std::optional<homing::SearchRecipe> search;            // by marks: the search planned
  std::vector<tuning::MoveForecast> proposed_loops;      // by loops: moves under the settings proposed
  std::vector<tuning::MoveForecast> own_loops;           // by loops: moves under the loops they were made with
};

}  // namespace evenbeam::workflow
