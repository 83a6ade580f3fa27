#include "protection/trip_settings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/side_by_side.h"
#include "protection/latency_budget.h"
#include "protection/trip_range.h"

namespace evenbeam::protection {
namespace {

constexpr double kUsualLatency_s = 0.01;  // where none was measured (common practice, no source)

// Largest trip at which the fault is held; 0 where it is not even at `low`.
double largest_trip(const Worst& worst, double low, double high, double limit_m, int& runs) {
  Scenario s = worst.scenario;
  const auto held = [&](double trip) {
    s.trip.skew_m = trip;
    return holds_at_all_instants(*worst.place, s, limit_m, runs);
  };
  if (!held(low)) return 0;
  if (held(high)) return high;
  for (int i = 0; i < 6; ++i) {
    const double middle = std::sqrt(low * high);
    (held(middle) ? low : high) = middle;
  }
  return low;
}

SearchOptions options_of(const TripSettings& t, bool refine) {
  return {.latency_s = t.latency_s, .trip = {t.skew_trip_m, t.following_trip_m}, .sizes = t.sizes, .refine = refine};
}

// All faults this machine can have under the reactions, reaction after reaction.
std::vector<Worst> search_all(TripSettings& t, const std::vector<Reaction>& reactions, bool refine, int threads) {
  std::vector<Pair> pairs;
  for (Reaction reaction : reactions)
    for (FaultKind fault : possible_faults(t.sizes)) pairs.push_back({fault, reaction});
  std::vector<Worst> out = worst_cases(t.range, pairs, options_of(t, refine), threads);
  for (const Worst& w : out) t.runs += w.runs;
  return out;
}

void count(ReactionRow& row, const Worst& w, double limit_m) {
  row.beyond += w.peak_skew_m > limit_m / (1 - in_hand);
  row.unheld += w.peak_skew_m > limit_m;
  if (w.peak_skew_m > row.peak_skew_m) row.peak_skew_m = w.peak_skew_m, row.by = w.fault;
  if (w.fault == FaultKind::side_off) row.one_side_off_peak_m = w.peak_skew_m;
}

// Fills the rows and gives the coarse looks under the reaction chosen.
std::vector<Worst> choose_reaction(TripSettings& t, int threads) {
  std::vector<Reaction> offered;
  for (Reaction reaction : all_reactions())
    if (reaction != Reaction::off_brakes || t.sizes.brakes_known) offered.push_back(reaction);
  const std::vector<Worst> all = search_all(t, offered, false, threads);
  std::vector<const Worst*> one_side_off(offered.size());
  std::vector<int> runs(offered.size());
  for (size_t i = 0; i < offered.size(); ++i) t.reactions.push_back({.reaction = offered[i]});
  const auto row_of = [&](const Worst& w) {
    return static_cast<size_t>(std::find(offered.begin(), offered.end(), w.reaction) - offered.begin());
  };
  for (const Worst& w : all) {
    count(t.reactions[row_of(w)], w, t.limit_m);
    if (w.fault == FaultKind::side_off) one_side_off[row_of(w)] = &w;
  }
  base::side_by_side(offered.size(), static_cast<size_t>(threads), [&](size_t i) {
    t.reactions[i].one_side_off_budget_s =
        latency_budget_s(t.range, *one_side_off[i], options_of(t, false), t.limit_m, runs[i]);
  });
  for (int n : runs) t.runs += n;
  const auto better = [](const ReactionRow& a, const ReactionRow& b) {
    if (a.beyond != b.beyond) return a.beyond < b.beyond;
    return a.unheld != b.unheld ? a.unheld < b.unheld : a.peak_skew_m < 0.95 * b.peak_skew_m;
  };
  const ReactionRow* best = &t.reactions.front();
  for (const ReactionRow& row : t.reactions)
    if (better(row, *best) && row.reaction != Reaction::dynamic_braking) best = &row;
  t.reaction = best->reaction;
  std::vector<Worst> chosen;
  for (const Worst& w : all)
    if (w.reaction == t.reaction) chosen.push_back(w);
  return chosen;
}

// The least change that holds the fault: sooner, with a tighter trip, slower, slower and sooner.
std::string would_need(const FaultRow& row, const TripSettings& t, const std::vector<machine::PlannedMove>& moves,
                       int& runs) {
  const Worst& worst = row.worst;
  if (row.latency_budget_s && *row.latency_budget_s > 1e-3)
    return fmt::format("a reaction within {:.1f} ms holds it", 1e3 * *row.latency_budget_s);
  Scenario quick = worst.scenario;
  quick.latency_s = 1e-3;
  quick.trip.skew_m = t.ordinary.skew_m;
  quick.trip.following_m = t.ordinary.following_m;
  if (holds_at_all_instants(*worst.place, quick, t.limit_m, runs))
    return "trips at the nuisance edge and a reaction within 1 ms hold it";
  for (const Scenario& tried : {worst.scenario, quick})
    for (double part : {0.7, 0.5, 0.3, 0.1}) {
      const OrdinaryMove slower = ordinary_move(worst.place->model, worst.place->place, travel(moves.front(), part));
      Scenario slow = tried;
      slow.fault_s = slower.move.duration_s / 2;
      if (holds_at_all_instants(slower, slow, t.limit_m, runs))
        return fmt::format("at {:.0f} % of the speed it is held{}", 100 * part,
                           tried.latency_s < worst.scenario.latency_s ? " with a reaction within 1 ms" : "");
    }
  return "neither a reaction within 1 ms nor a tenth of the speed holds it; limit the peak force or stiffen the "
         "bridge";
}

// One fault's row, and the largest trip that still holds it.
struct StudiedFault {
  FaultRow row;
  double trip_m = 0;
  int runs = 0;
};

StudiedFault study(const TripSettings& t, Worst w, const std::vector<machine::PlannedMove>& moves) {
  const int looked_at = w.runs;
  refine(t.range, w);
  const int refined = w.runs - looked_at;
  StudiedFault out{
      .row = {.worst = w, .held = w.peak_skew_m <= t.limit_m && w.finished}, .trip_m = t.limit_m, .runs = refined};
  out.row.latency_budget_s = latency_budget_s(t.range, w, options_of(t, false), t.limit_m, out.runs);
  if (!out.row.held) out.row.would_need = would_need(out.row, t, moves, out.runs);
  if (out.row.held && !drive_tells(w.fault))
    out.trip_m = largest_trip(w, std::min(t.ordinary.skew_m, t.limit_m), t.limit_m, t.limit_m, out.runs);
  return out;
}

// `worst`: coarse looks under the reaction chosen.
void fill_faults(TripSettings& t, const std::vector<Worst>& worst, const std::vector<machine::PlannedMove>& moves,
                 int threads) {
  std::vector<StudiedFault> studied(worst.size());
  base::side_by_side(worst.size(), std::size_t(threads),
                     [&](std::size_t i) { studied[i] = study(t, worst[i], moves); });
  t.damage_m = t.limit_m;
  for (const auto& [row, trip_m, runs] : studied) {
    const Worst& w = row.worst;
    t.runs += runs;
    t.damage_m = std::min(t.damage_m, trip_m);
    const double budget = row.latency_budget_s.value_or(0);
    if (row.latency_budget_s && !power_is_gone(w.fault) && (!t.latency_budget_s || budget < *t.latency_budget_s))
      t.latency_budget_s = budget, t.budget_by = w.fault;
    if (w.fault == FaultKind::side_off) t.side_off_peak_m = w.peak_skew_m;
    t.faults.push_back(row);
    if (w.peak_skew_m > t.faults[t.worst].worst.peak_skew_m) t.worst = t.faults.size() - 1;
  }
}

// Speed and force trips, the growing skew trip, the filter that the faults leave time for; and when each fault's
// worst case would be seen by them.
void further(TripSettings& t, const TripsInput& input, const NuisanceInput& ordinary) {
  std::vector<const OrdinaryMove*> all;
  for (const OrdinaryMove& m : t.range.fine) all.push_back(&m);
  for (const OrdinaryMove& m : ordinary.slow) all.push_back(&m);
  t.further = further_trips(envelope_of(all, t.ordinary.straightening_m), t.ordinary,
                            command_spread(t.range.coarse, ordinary.drawn), t.skew_trip_m, t.range.fine.front().model,
                            {input.count_m, input.settings->period_s});
  for (FaultRow& row : t.faults) {
    Scenario s = row.worst.scenario;
    s.trace = s.to_standstill = true;
    const EventModel& m = row.worst.place->model;
    const FaultOutcome run = run_fault(*row.worst.place, s);
    row.guide_moment_n_m = m.stiffness_n_per_m * m.span_m * row.worst.peak_skew_m;
    row.stands = run.stands, row.stop_way_m = run.stop_way_m, row.stop_s = run.stands_s - s.fault_s;
    ++t.runs;
    row.seen_by = run.seen_by, row.seen_after_s = run.seen ? run.seen_s - s.fault_s : 0;
    row.further = first_seen(t.further, run, s.fault_s);
    if (row.held && row.latency_budget_s &&
        (run.seen_by == SeenBy::skew_trip || run.seen_by == SeenBy::following_trip))
      t.further.filter_s =
          std::min(t.further.filter_s.value_or(never_s), std::max(0.0, *row.latency_budget_s - t.latency_s));
  }
}

void look_closer(TripSettings& t) {
  const Worst& w = t.faults[t.worst].worst;
  t.bound = bound_between({w.place}, w, options_of(t, false), 0.02, 1500);
  t.runs += t.bound.runs;
  Scenario s = w.scenario;
  s.trace = s.to_standstill = true;
  t.worst_run = run_fault(*w.place, s);
  for (const FaultRow& row : t.faults) {
    Scenario one = row.worst.scenario;
    one.to_standstill = true;
    // The longest way is from full speed.
    one.fault_s = row.worst.place->move.duration_s / 2;
    const FaultOutcome out = run_fault(*row.worst.place, one);
    if (!out.seen) continue;
    t.stop_s = std::max(t.stop_s, out.stands_s - one.fault_s);
    t.stop_way_m = std::max(t.stop_way_m, out.stop_way_m);
  }
  const OrdinaryMove* middle = &t.range.fine.front();
  for (const OrdinaryMove& move : t.range.fine)
    if (std::abs(move.place.carriage_y_m) < std::abs(middle->place.carriage_y_m)) middle = &move;
  Scenario usual{.reaction = t.reaction,
                 .fault_s = middle->move.duration_s / 2,
                 .latency_s = t.latency_s,
                 .trip = {t.skew_trip_m, t.following_trip_m},
                 .sizes = t.sizes};
  t.cruise_peak_m = run_fault(*middle, usual).peak_skew_m;
}

}  // namespace

std::string missing_for_trips(const TripsInput& input) {
  if (input.plant == nullptr) return "the fitted plant is not known";
  if (!input.allowable_skew_m) return "the allowable skew is not known (station limits)";
  if (!input.settings) return "no loops are known: neither proposed nor stated with a recording";
  if (input.moves.empty()) return "no move is known to fault";
  if (!(input.plant->yaw_stiffness_n_m_per_rad > 0)) return "the yaw stiffness is not known";
  if (!(std::abs(input.standing_skew_m) < *input.allowable_skew_m))
    return "the skew seen at rest already passes what is allowed";
  return "";
}

TripSettings trip_settings(const machine::Machine& machine, const TripsInput& input) {
  TripSettings t;
  t.why_not = missing_for_trips(input);
  if (!t.why_not.empty()) return t;
  t.range = search_range(machine, input, t.why_not);
  if (!t.why_not.empty()) return t;
  t.limit_m = (1 - in_hand) * *input.allowable_skew_m;
  t.latency_measured = input.cross_trip_s.has_value();
  t.latency_s = input.cross_trip_s.value_or(kUsualLatency_s);
  const auto moves = hardest(input.moves);
  double speed = 0, acceleration = 0;
  for (const auto& m : moves) {
    speed = std::max(speed, m.speed_m_per_s);
    acceleration = std::max(acceleration, m.acceleration_m_per_s2);
  }
  t.sizes = fault_sizes(machine, speed, acceleration);
  const NuisanceInput ordinary = nuisance_input(machine, input, t.range);
  t.ordinary = nuisance(ordinary);
  const double least = t.ordinary.skew_m;
  t.skew_trip_m = least >= t.limit_m ? least : std::min(2 * least, std::sqrt(least * t.limit_m));
  t.following_trip_m = std::max(1.5 * t.ordinary.following_m, 2 * t.skew_trip_m);
  fill_faults(t, choose_reaction(t, input.threads), moves, input.threads);
  t.window_open = least < t.limit_m && t.damage_m > least;
  // The faults above were searched with a trip too high for the one that decides: again with the lower one.
  if (t.window_open && t.damage_m < t.skew_trip_m) {
    t.skew_trip_m = std::sqrt(least * t.damage_m);
    t.faults.clear();
    t.worst = 0;
    t.latency_budget_s.reset();
    fill_faults(t, search_all(t, {t.reaction}, false, input.threads), moves, input.threads);
  }
  look_closer(t);
  further(t, input, ordinary);
  t.done = true;
  return t;
}

}  // namespace evenbeam::protection
