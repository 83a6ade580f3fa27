#pragma once
// One evaluation of a job: what every station said, and what the person has set against it.
#include <optional>
#include <string>
#include <vector>

#include "base/figure.h"
#include "homing/search_recipe.h"
#include "identification/identify.h"
#include "journal/record.h"
#include "journal/result_file.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "recording/recording.h"
#include "rehearsal/rehearse_station.h"

namespace evenbeam::workflow {

using journal::Override;

struct Evaluation {
  std::string job;
  machine::Machine machine;
  std::vector<recording::Recording> recordings;
  rehearsal::RuleTable rules = rehearsal::common_practice();
  std::vector<journal::InputFile> inputs;
  std::vector<base::StationOutcome> stations;            // "recordings" first, then the line of work
  std::optional<machine::Settings> settings;             // proposed
  std::optional<identification::Identified> identified;  // for what is tried on the virtual gantry afterwards
  std::optional<homing::SearchRecipe> search;            // by marks
  std::optional<rehearsal::RehearseInput> rehearse;      // for a session with the virtual pair; empty: not fitted yet
  std::vector<Override> overrides;                       // those in force
  std::vector<std::string> pending;                      // stations still at work; empty once it is whole
};

journal::Result result_of(const Evaluation& evaluation);
// A station's number; empty where it has none.
std::optional<double> number_of(const Evaluation& evaluation, const std::string& station, const std::string& key);
const base::StationResult* find_station(const Evaluation& evaluation, const std::string& name);

}  // namespace evenbeam::workflow
