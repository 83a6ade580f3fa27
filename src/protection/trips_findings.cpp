#include "protection/trips_findings.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "protection/latency_budget.h"
#include "protection/stopping.h"

namespace evenbeam::protection {
namespace {

using base::Finding;
using base::Verdict;

constexpr const char* kModel = "event model of mean and yaw with the fitted plant (docs/faults.md)";

const char* name_of(FaultySide side) { return side == FaultySide::a ? "A" : "B"; }

std::string phase_of(const OrdinaryMove& place, double time_s) {
  const double a = trajectory::at(place.move, time_s).acceleration_m_per_s2;
  if (time_s <= 0) return "at the start of the move";
  if (time_s >= place.move.duration_s) return "after the move's end";
  return a > 1e-9 ? "while accelerating" : a < -1e-9 ? "while slowing down" : "at constant speed";
}

// A control's message from one drive to the other cannot promise less (common practice, no source).
constexpr double kMessage_s = 0.02;

// Which faults leave no time for a message, each with its budget; which do; which nothing holds in time.
std::string must_be_wired(const TripSettings& t) {
  std::vector<std::string> wired, told, never;
  for (const FaultRow& row : t.faults) {
    const std::string name = to_text(row.worst.fault);
    if (power_is_gone(row.worst.fault)) continue;
    if (!row.latency_budget_s)
      never.push_back(name);
    else if (*row.latency_budget_s < kMessage_s)
      wired.push_back(fmt::format("{} ({:.1f} ms)", name, 1e3 * *row.latency_budget_s));
    else
      told.push_back(*row.latency_budget_s >= longest_latency_s
                         ? fmt::format("{} (500 ms or more)", name)
                         : fmt::format("{} ({:.0f} ms)", name, 1e3 * *row.latency_budget_s));
  }
  std::string out;
  if (!wired.empty())
    out += fmt::format("Under {:.0f} ms, so each drive's fault output and trip wired to the other's enable: {}. ",
                       1e3 * kMessage_s, fmt::join(wired, ", "));
  if (!told.empty())
    out += fmt::format("A message through the control is soon enough, if its longest time is known: {}. ",
                       fmt::join(told, ", "));
  if (!never.empty()) out += fmt::format("No reaction is soon enough: {}. ", fmt::join(never, ", "));
  return out;
}

std::string level_of(std::optional<double> force_n, double part_of_peak, const char* side) {
  return force_n ? fmt::format("{} {:.0f} N", side, *force_n)
                 : fmt::format("{} none (ordinary moves ask for {:.0f} % of what it has)", side,
                               100 * std::min(1.0, part_of_peak));
}

// How often, and at most how much, a further trip is sooner in the worst cases than the drive and the two trips.
std::string sooner(const TripSettings& t, std::optional<double> FirstSeen::*after_s) {
  int times = 0;
  double most_s = 0;
  std::string by;
  for (const FaultRow& row : t.faults) {
    if (power_is_gone(row.worst.fault) || row.seen_by == SeenBy::drive || !(row.further.*after_s)) continue;
    const double gained = row.seen_by == SeenBy::nothing ? never_s : row.seen_after_s - *(row.further.*after_s);
    if (gained <= 1e-4) continue;
    ++times;
    if (gained > most_s) most_s = gained, by = to_text(row.worst.fault);
  }
  if (times == 0) return "no fault sooner";
  const std::string most = std::isfinite(most_s) ? fmt::format("by {:.1f} ms", 1e3 * most_s) : "that no other sees";
  return times == 1 ? fmt::format("one fault sooner ({}, {})", by, most)
                    : fmt::format("{} faults sooner (most: {}, {})", times, by, most);
}

std::string growing_text(const TripSettings& t) {
  const GrowingLevel& level = t.further.skew;
  if (level.at_rest_m >= 0.95 * t.further.most_skew_m)
    return fmt::format(
        "A skew trip that grows with the reference gains nothing here: at rest ({}) it must allow as much",
        t.ordinary.by);
  return fmt::format(
      "Skew trip that grows with the reference, {:.2f} mm and {:.2f} mm more for each m/s and {:.3f} mm for each "
      "m/s2, at most {}: {}",
      1e3 * level.at_rest_m, 1e3 * level.per_speed_s, 1e3 * level.per_acceleration_s2, mm(t.further.most_skew_m),
      sooner(t, &FirstSeen::growing_s));
}

std::vector<std::string> by_reaction(const TripSettings& t) {
  std::vector<std::string> out;
  for (const ReactionRow& row : t.reactions)
    out.push_back(row.one_side_off_budget_s
                      ? fmt::format("{}, within {:.1f} ms", to_text(row.reaction), 1e3 * *row.one_side_off_budget_s)
                      : fmt::format("{}, not even at once", to_text(row.reaction)));
  return out;
}

}  // namespace

std::string mm(double m) { return fmt::format("{:.2f} mm", 1e3 * std::abs(m)); }

Finding worst_finding(const TripSettings& t, double allowable_m) {
  const FaultRow& row = t.faults[t.worst];
  const Worst& w = row.worst;
  Finding f{.id = "worst_fault",
            .verdict = row.held ? Verdict::pass : Verdict::attention,
            .value = w.peak_skew_m,
            .unit = "m"};
  f.limit = t.limit_m;
  f.lower = w.peak_skew_m;
  if (t.bound.bounded) f.upper = t.bound.peak_skew_m;
  f.source = std::string("guide limit less a fifth; ") + kModel;
  f.text = fmt::format(
      "Worst single fault: {} at {} {} ({:.2f} m/s, carriage at {:.2f} m, {:.0f} kg payload) skews the bridge "
      "{} of {} allowed. ",
      to_text(w.fault), name_of(w.scenario.side), phase_of(*w.place, w.scenario.fault_s),
      w.place->move.peak_speed_m_per_s, w.place->place.carriage_y_m, w.place->place.payload_kg, mm(w.peak_skew_m),
      mm(allowable_m));
  f.text +=
      t.bound.bounded
          ? fmt::format("Between the instants tried it stays under {} (docs/faults.md). ", mm(t.bound.peak_skew_m))
          : std::string("Between the instants tried nothing bounds it: a loop stays on in this reaction. ");
  f.text +=
      fmt::format("One side off does up to {}; the usual test of it, in cruise with the carriage at mid-span, {}.",
                  mm(t.side_off_peak_m), mm(t.cruise_peak_m));
  if (!row.held) f.next = row.would_need + ".";
  return f;
}

Finding window_finding(const TripSettings& t, const TripsInput& input) {
  Finding f{.id = "skew_trip",
            .verdict = t.window_open ? Verdict::pass : Verdict::attention,
            .value = t.skew_trip_m,
            .unit = "m"};
  f.limit = t.damage_m;
  f.source = fmt::format(
      "nuisance side: {} forecasts and the event model; damage side: guide limit less a fifth (docs/faults.md)",
      input.forecasts.size());
  f.text = fmt::format(
      "Skew trip {} on the skew error as read: moves, jogs, searches and straightenings stay below {}, with at most "
      "1 false trip in 10,000 (largest peak {}, {}, widened by the fit's spread of {:.0f} %, the captured strokes' "
      "scatter of {:.0f} % and 10 % for what the model leaves out), and every fault that can be held is held up to a "
      "trip of {}{}. Following-error trip {}, the same on both sides. Computed for {}.",
      mm(t.skew_trip_m), mm(t.ordinary.skew_m), mm(t.ordinary.peak_skew_m), t.ordinary.by, 100 * t.ordinary.spread,
      100 * t.ordinary.scatter, mm(t.damage_m),
      t.damage_m >= t.limit_m ? " (the following-error trip sees them first)" : "", mm(t.following_trip_m),
      input.settings_name);
  if (t.window_open)
    f.next = "Enter both trips, then make the fastest move at both carriage ends: none may trip.";
  else
    f.next = "The window is closed: quieten the ordinary moves (share, friction feed-forward) or react faster.";
  return f;
}

Finding further_finding(const TripSettings& t) {
  const FurtherTrips& more = t.further;
  Finding f{.id = "further_trips", .verdict = Verdict::pass, .source = kModel};
  f.text = fmt::format(
      "Further trips, above every ordinary motion by the same odds; they can only see a fault sooner, and what is "
      "held is held without them. Speed of either end {:.2f} m/s: {}. Commanded force {}, {}: {}. {}. ",
      more.speed_m_per_s, sooner(t, &FirstSeen::speed_s), level_of(more.force_a_n, more.most_command_a, "A"),
      level_of(more.force_b_n, more.most_command_b, "B"), sooner(t, &FirstSeen::force_s), growing_text(t));
  f.text += more.filter_s
                ? fmt::format(
                      "What is held stays held where a filter delays a trip by {:.1f} ms at most; what is not held "
                      "gets worse by any.",
                      1e3 * *more.filter_s)
                : std::string("No fault that is held waits for a trip: how much filtering it bears is unknown.");
  f.next = "Enter what the control offers; make the fastest move at both carriage ends: none may trip.";
  return f;
}

Finding reaction_finding(const TripSettings& t) {
  Finding f{.id = "reaction", .verdict = Verdict::pass};
  f.source = "stop categories: IEC 60204-1, 9.2, from memory";
  std::vector<std::string> parts;
  for (const ReactionRow& row : t.reactions)
    parts.push_back(fmt::format("{}: {} at most, {} past the guide limit, {} past what is kept in hand",
                                to_text(row.reaction), mm(row.peak_skew_m), row.beyond, row.unheld));
  f.text = fmt::format("Reaction: {}. Over all faults, looked at coarsely: {}. Never cut one side alone.",
                       to_text(t.reaction), fmt::join(parts, "; "));
  f.next = "Both drives must receive one and the same event; a reset must not start motion.";
  if (!t.sizes.brakes_known) f.next += " State brakes with hold force and closing time where the machine has them.";
  return f;
}

Finding budget_finding(const TripSettings& t) {
  Finding f{.id = "latency_budget", .unit = "s", .limit = t.latency_budget_s};
  f.value = t.latency_s;
  f.source = kModel;
  const double budget = t.latency_budget_s.value_or(0);
  f.verdict = budget > t.latency_s ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "From the instant a fault is told or a trip is met to both outputs changed {:.1f} ms may pass (shortest over "
      "the faults that a reaction in time can hold, here {}); {:.1f} ms are {}. ",
      1e3 * budget, to_text(t.budget_by), 1e3 * t.latency_s,
      t.latency_measured ? "what the captured fault took" : "assumed, common practice without source: measure it");
  f.text += must_be_wired(t);
  f.text += fmt::format("One side off alone may be answered: {}.", fmt::join(by_reaction(t), "; "));
  if (!t.latency_measured)
    f.next = "Capture one drive switched off by itself at low speed; the time to the other's zero is read.";
  return f;
}

Finding unheld_finding(const TripSettings& t) {
  Finding f{.id = "faults_not_held", .verdict = Verdict::pass, .source = kModel};
  std::vector<std::string> parts;
  for (const FaultRow& row : t.faults)
    if (!row.held)
      parts.push_back(
          fmt::format("{} ({}): {}", to_text(row.worst.fault), mm(row.worst.peak_skew_m), row.would_need));
  if (parts.empty()) {
    f.text =
        fmt::format("All {} faults looked at are held with a fifth of the guide limit in hand.", t.faults.size());
  } else {
    f.verdict = Verdict::attention;
    f.text = fmt::format("Not held: {}.", fmt::join(parts, "; "));
    f.next = "Decide for each: the change named, or a mechanical stop or guard that takes it.";
  }
  f.text += fmt::format(" Sizes: {}.", fmt::join(t.sizes.assumed, "; "));
  return f;
}

Finding stopping_finding(const TripSettings& t) {
  constexpr double resolution_m = 0.03;
  Finding f{.id = "stopping", .verdict = Verdict::pass, .value = t.stop_way_m, .unit = "m"};
  f.source = "ISO 13855:2010, 6.2.3 and 6.2.4, from memory: S = K T + C; information, no safety function";
  f.text = fmt::format(
      "From full speed the bridge runs up to {:.2f} m and {:.2f} s until it stands. With that time alone a light "
      "curtain of 30 mm resolution would stand {:.2f} m away, single beams {:.2f} m; the times of guard and control "
      "come on top.",
      t.stop_way_m, t.stop_s, curtain_distance_m(t.stop_s, resolution_m), curtain_distance_m(t.stop_s, 0.05));
  f.next =
      "Measure the stopping time on the machine with the guard in use; what is used for people's safety needs that.";
  return f;
}

Finding service_finding(const std::vector<ServiceRow>& rows) {
  Finding f{.id = "service_baseline", .verdict = Verdict::pass};
  f.source =
      "this visit's values; thresholds: the change worth a look (common practice, no source) or twice this visit's "
      "half-interval, whichever is more";
  std::vector<std::string> parts;
  for (const ServiceRow& r : rows)
    parts.push_back(fmt::format("{} {:.3g} {} (changed outside {:.3g} to {:.3g}; {})", r.quantity, r.value.value,
                                r.unit, r.low, r.high, r.hint));
  f.text = fmt::format("To compare with at the visit in a year: {}.", fmt::join(parts, "; "));
  f.next = "Repeat the same captures then; the history of the job compares the two visits beyond their uncertainty.";
  return f;
}

}  // namespace evenbeam::protection
