#pragma once
// What a stop holds back. A station with a stop that nobody has overridden holds back, directly or through others,
// the next step of every station that needs it, and the acceptance of settings. It never holds back looking at
// captures.
#include <string>
#include <vector>

#include "workflow/evaluation.h"
#include "workflow/stations.h"

namespace evenbeam::workflow {

// Ids of the station's stop findings.
std::vector<std::string> stop_findings(const base::StationResult& station);
bool covers_a_stop(const Override& one, const base::StationResult& station);
// The overrides in force that cover any of the station's stops.
std::vector<Override> overrides_of(const Evaluation& evaluation, const base::StationResult& station);
// The station's stops that no override covers.
std::vector<std::string> open_stops(const Evaluation& evaluation, const base::StationResult& station);
bool has_open_stop(const Evaluation& evaluation, const std::string& station);
// Stations above `station` (needs, and needs of needs) with an open stop, in the order of the line.
std::vector<std::string> held_by(const std::string& station, const Evaluation& evaluation,
                                 const std::vector<Station>& line);
// Open stops that forbid accepting the proposed settings: those above `loops`, and its own.
std::vector<std::string> acceptance_held_by(const Evaluation& evaluation, const std::vector<Station>& line);

// Stations that a fault of the program ended (base/program_fault.h).
std::vector<std::string> faulty_stations(const Evaluation& evaluation);
// Stations above `station` whose answer is unknown by such a fault, in the order of the line: they might have
// stopped.
std::vector<std::string> unknown_above(const std::string& station, const Evaluation& evaluation,
                                       const std::vector<Station>& line);

// pass, attention, stop over all stations; an overridden stop and a fault of the program count as attention.
// `not done` only if all are.
base::Verdict overall_verdict(const Evaluation& evaluation);
int exit_code(base::Verdict verdict);         // 0 pass, 1 attention or not done, 2 stop
int exit_code(const Evaluation& evaluation);  // 4 where a fault of the program ended a station, else its verdict's

}  // namespace evenbeam::workflow
