#pragma once
// The sentences of station `trips`. Private to this room.
#include <string>

#include "base/finding.h"
#include "protection/captured_fault.h"
#include "protection/trip_settings.h"

namespace evenbeam::protection {

std::string mm(double m);  // of a size
base::Finding worst_finding(const TripSettings& t, double allowable_m);
base::Finding window_finding(const TripSettings& t, const TripsInput& input);
base::Finding further_finding(const TripSettings& t);
base::Finding reaction_finding(const TripSettings& t);
base::Finding budget_finding(const TripSettings& t);
base::Finding unheld_finding(const TripSettings& t);
base::Finding stopping_finding(const TripSettings& t);
base::Finding service_finding(const std::vector<ServiceRow>& rows);
base::Finding captured_finding(const CapturedFault& c, const TripSettings& t, double allowable_m);

}  // namespace evenbeam::protection
