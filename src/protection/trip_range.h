#pragma once
// Moves and places that trips are searched over. Private to this room.
#include "protection/trip_settings.h"

namespace evenbeam::protection {

trajectory::Move travel(const machine::PlannedMove& move, double speed_part = 1);
// The move with most acceleration and, where clearly faster, the fastest.
std::vector<machine::PlannedMove> hardest(const std::vector<machine::PlannedMove>& moves);
// Evenly over the carriage's travel and the payload known.
std::vector<Place> places(const machine::Machine& machine, int ys, int loads);
// With the share that the controller holds there.
OrdinaryMove move_at(const TripsInput& input, const dynamics::Plant& plant, const Place& place,
                     const trajectory::Move& move, double standing_skew_m);
NuisanceInput nuisance_input(const machine::Machine& machine, const TripsInput& input, const SearchRange& range);

}  // namespace evenbeam::protection
