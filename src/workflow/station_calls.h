#pragma once
// The stations that are built, each asked with what the bench holds. One function a station.
#include "base/estimate.h"
#include "homing/marks_station.h"
#include "rehearsal/rehearse_station.h"
#include "workflow/stations.h"

namespace evenbeam::workflow {

base::StationOutcome ask_ready(StationInput& bench);
base::StationOutcome ask_survey(StationInput& bench);
base::StationOutcome ask_limits(StationInput& bench);
base::StationOutcome ask_nudge(StationInput& bench);
base::StationOutcome ask_marks(StationInput& bench);
base::StationOutcome ask_square(StationInput& bench);
base::StationOutcome ask_fit(StationInput& bench);
base::StationOutcome ask_loops(StationInput& bench);
base::StationOutcome ask_rehearse(StationInput& bench);
base::StationOutcome ask_trips(StationInput& bench);
base::StationOutcome ask_causes(StationInput& bench);
base::StationOutcome ask_prove(StationInput& bench);
base::StationOutcome ask_handover(StationInput& bench);

// What marks needs of the bench.
homing::MarksInput marks_input(StationInput& bench);
// What rehearsal needs of the bench, for the station and for a session with it.
rehearsal::RehearseInput rehearse_input(StationInput& bench);

// A value another station has left under its documented key, with its interval (the number itself where it has none);
// nullopt where that station has not run, or does not know.
std::optional<base::Estimate> estimate_of(const Bench& bench, const std::string& station, const std::string& key);

}  // namespace evenbeam::workflow
