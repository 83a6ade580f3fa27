#pragma once
// Station `trips`: thresholds and reaction, the worst any single fault does before the reaction holds it, how late
// the reaction may come, and a captured fault against its prediction. Keys: docs/formats.md, "values of trips".
// Nothing here is a safety function; stop categories and distances are information.
#include "base/figure.h"
#include "protection/captured_fault.h"
#include "protection/trip_settings.h"

namespace evenbeam::protection {

// Fills in moves (machine.moves, else as recorded) and the cross-trip time from `recordings`.
base::StationOutcome trips_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, TripsInput input);

// Distance, speed, acceleration and jerk of a recorded test move's strokes; nullopt where it shows no whole stroke.
std::optional<machine::PlannedMove> move_as_recorded(const recording::Recording& recording);

// In trips_figures.cpp.
std::vector<base::Figure> trips_figures(const TripSettings& settings, const std::vector<CapturedFault>& captured,
                                        const std::vector<recording::Recording>& recordings, double allowable_skew_m,
                                        double stress_free_skew_m);

}  // namespace evenbeam::protection
