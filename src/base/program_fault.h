#pragma once
// A fault of the program (check.h) that ends one station and no other: the station is "not done" and says so in a
// finding of a fixed id, which the record keeps. A station that needs its numbers is "not done" too, under another
// id.
#include <string>
#include <vector>

#include "base/figure.h"

namespace evenbeam::base {

// `what` is the text of the check that failed: what is to be sent to us.
StationOutcome ended_by_fault(const std::string& station, const std::string& what);
// `faulty` are the stations without whose numbers this one has nothing to stand on.
StationOutcome waiting_for_fault(const std::string& station, const std::vector<std::string>& faulty);

const Finding* program_fault(const StationResult& station);  // nullptr where it met none itself
// Whether what it would say is unknown by a fault, its own or that of a station it needs.
bool unknown_by_fault(const StationResult& station);
// Its part in the verdict of all stations. One that a fault ended might have stopped: with it the whole never passes.
Verdict part_in_whole(const StationResult& station);

}  // namespace evenbeam::base
