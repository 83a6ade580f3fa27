#pragma once
// Trips between nuisance and damage: the skew trip lies above what ordinary motion shows (nuisance.h) and below the
// level at which a fault, seen there and answered after the latency, still keeps a fifth of the guide limit in hand
// (bisection, every fault that can be held).
// The reaction is the one under which fewest faults pass the guide limit itself, then fewest the part of it that is
// kept in hand, then, by more than 5 %, the smallest peak; dynamic braking is shown but not proposed, since no paper
// gives its force.
#include <optional>
#include <string>
#include <vector>

#include "machine/machine.h"
#include "machine/settings.h"
#include "protection/bound.h"
#include "protection/further_trips.h"
#include "protection/nuisance.h"
#include "protection/service_baseline.h"

namespace evenbeam::protection {

inline constexpr double in_hand = 0.2;  // of the guide limit, kept free (the project's own rule)

struct TripsInput {
  const dynamics::Plant* plant = nullptr;     // real newtons
  std::vector<dynamics::Plant> drawn;         // the same, drawn from the fit's uncertainty
  std::optional<machine::Settings> settings;  // loops it will run with
  std::string settings_name;                  // in words
  std::optional<double> allowable_skew_m;     // from the stress-free attitude
  double standing_skew_m = 0;                 // size seen at rest, from the stress-free attitude
  std::vector<MoveForecast> forecasts;        // under `settings`
  std::vector<MoveForecast> own_forecasts;    // of captures under the loops they were made with
  std::vector<machine::PlannedMove> moves;    // the person's own, or as recorded
  std::optional<double> cross_trip_s;         // measured
  double count_m = 0;                         // the coarser feedback
  double scatter = 0, over_forecast = 1;      // of the captures' strokes (nuisance.h)
  double travel_m = 0;                        // along the rails, 0 = not known: limits jogs
  int threads = 1;
  ServiceInput service;  // what the visit in a year compares with
};

struct FaultRow {
  Worst worst;
  bool held = false;
  std::optional<double> latency_budget_s;  // nullopt = not held at any
  std::string would_need;                  // where not held
  SeenBy seen_by = SeenBy::nothing;        // of the two trips and the drive, in the worst case
  double seen_after_s = 0;
  FirstSeen further;                  // when the other trips would have seen the same run
  double guide_moment_n_m = 0;        // at the peak, of the guides' yaw stiffness
  double stop_way_m = 0, stop_s = 0;  // from the fault to standstill
  bool stands = false;                // within the time looked at
};
struct ReactionRow {
  Reaction reaction = Reaction::off;
  double peak_skew_m = 0;  // over all faults
  FaultKind by = FaultKind::side_off;
  int beyond = 0, unheld = 0;  // faults past the guide limit; past what is kept in hand
  double one_side_off_peak_m = 0;
  std::optional<double> one_side_off_budget_s;
};
struct TripSettings {
  bool done = false;
  std::string why_not;
  double limit_m = 0;  // allowable less what is kept in hand
  double latency_s = 0;
  bool latency_measured = false;
  Nuisance ordinary;
  double damage_m = 0;  // 0: no trip holds every fault that can be held
  bool window_open = false;
  double skew_trip_m = 0, following_trip_m = 0;
  FurtherTrips further;
  Reaction reaction = Reaction::off;
  std::vector<ReactionRow> reactions;
  std::vector<FaultRow> faults;            // under the chosen reaction
  std::optional<double> latency_budget_s;  // shortest of the faults that any latency holds
  FaultKind budget_by = FaultKind::side_off;
  size_t worst = 0;  // in faults
  Bound bound;
  FaultOutcome worst_run;             // with its trace, to standstill
  double cruise_peak_m = 0;           // the usual test: one side off in cruise, carriage nearest mid-span
  double side_off_peak_m = 0;         // its worst case, for the comparison
  double stop_s = 0, stop_way_m = 0;  // longest over the faults' worst cases, from the fault on
  FaultSizes sizes;
  SearchRange range;
  int runs = 0;
};
TripSettings trip_settings(const machine::Machine& machine, const TripsInput& input);

// Places, payloads and moves searched; `why_not` where the loops don't settle.
SearchRange search_range(const machine::Machine& machine, const TripsInput& input, std::string& why_not);
std::string missing_for_trips(const TripsInput& input);  // as a sentence; empty where nothing is

}  // namespace evenbeam::protection
