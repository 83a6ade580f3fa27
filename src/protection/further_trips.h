#pragma once
// Trips beside skew and following error, and a skew trip that grows with the reference. What holds the faults stays
// the constant skew trip and the following-error trip (trip_settings.h): all these lie above ordinary motion by the
// same odds and can only see a fault sooner.
//   speed trip of an end = fastest reference + (fastest end - fastest reference)(1 + 3.72 part) + one count a period
//   force trip of a side = largest command (1 + 3.72 sqrt(spread^2 + 0.1^2)), none from 95 % of the peak force on
//   growing skew trip    = least of the constant one and (envelope (ordinary_envelope.h) scaled to the nuisance level
//                          + 3 counts) times constant trip/nuisance level
//   filter               = how much later a trip may come: the shortest budget, over the faults that a trip must see
//                          and that are held, less the latency
// part: relative spread of ordinary motion's skew (nuisance.h); spread: that of the largest command over plants drawn
// from the fit, the largest of all places; a tenth for what the plant leaves out. Derived here; 95 % and the tenth
// are common practice, no source.
#include <optional>
#include <string>
#include <vector>

#include "protection/fault_run.h"
#include "protection/nuisance.h"
#include "protection/ordinary_envelope.h"

namespace evenbeam::protection {

struct FurtherTrips {
  double speed_m_per_s = 0;
  std::optional<double> force_a_n,
      force_b_n;  // commanded newtons; nullopt: ordinary moves ask for nearly all there is
  double most_command_a = 0, most_command_b = 0;  // of ordinary moves, part of the peak force
  GrowingLevel skew;
  double most_skew_m = 0;          // the growing trip's upper end: the constant one
  std::optional<double> filter_s;  // nullopt: no fault waits for a trip
};
struct CommandSpread {
  double a = 0, b = 0;
};
// `drawn`: the places of `coarse` with plants drawn from the fit, draw after draw.
CommandSpread command_spread(const std::vector<OrdinaryMove>& coarse, const std::vector<OrdinaryMove>& drawn);

struct TripNoise {
  double count_m = 0, period_s = 0;
};
FurtherTrips further_trips(const OrdinaryEnvelope& ordinary, const Nuisance& nuisance, const CommandSpread& spread,
                           double skew_trip_m, const EventModel& model, const TripNoise& noise);

// When each would first see a fault, seconds after it, from a run's trace; nullopt: never in the run.
struct FirstSeen {
  std::optional<double> speed_s, force_s, growing_s;
};
FirstSeen first_seen(const FurtherTrips& trips, const FaultOutcome& run, double fault_s);

}  // namespace evenbeam::protection
