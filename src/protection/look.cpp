#include "protection/look.h"

#include <algorithm>

namespace evenbeam::protection {
namespace {

bool fault_has_two_ways(FaultKind fault, const FaultSizes& sizes) {
  if (power_is_gone(fault)) return sizes.brakes_known;
  return fault == FaultKind::feedback_slip || fault == FaultKind::command_step || fault == FaultKind::carriage_thrown;
}
bool has_two_ways(FaultKind fault, Reaction reaction, const FaultSizes& sizes) {
  return fault_has_two_ways(fault, sizes) || (reaction == Reaction::off_brakes && !power_is_gone(fault));
}
bool same_on_both_sides(FaultKind fault) {
  return power_is_gone(fault) || fault == FaultKind::command_step || fault == FaultKind::carriage_thrown;
}

double note(Worst& worst, const OrdinaryMove& ordinary, const Scenario& s, const FaultOutcome& out) {
  ++worst.runs;
  worst.finished = worst.finished && out.finished;
  if (worst.place == nullptr || out.peak_skew_m > worst.peak_skew_m) {
    worst.peak_skew_m = out.peak_skew_m;
    worst.scenario = s;
    worst.place = &ordinary;
    worst.seen = out.seen;
  }
  return out.peak_skew_m;
}
// One line to be looked over: a side and way under one of the reactions.
struct Way {
  Worst* worst = nullptr;
  Scenario scenario;
  std::vector<FaultOutcome> seen;  // at the instants
};

// Runs together what is alike until the reaction: all ways of `group`.
void run_ways(const OrdinaryMove& place, const std::vector<Way*>& group, const std::vector<double>& times) {
  std::vector<Scenario> scenarios;
  for (const Way* way : group) scenarios.push_back(way->scenario);
  for (double t : times) {
    for (Scenario& s : scenarios) s.fault_s = t;
    std::vector<FaultOutcome> seen = run_alike(place, scenarios);
    for (size_t i = 0; i < group.size(); ++i) group[i]->seen.push_back(std::move(seen[i]));
  }
}

}  // namespace

double look(Worst& worst, const OrdinaryMove& ordinary, const Scenario& s) {
  return note(worst, ordinary, s, run_fault(ordinary, s));
}

void look_over(std::vector<Worst>& worst, const OrdinaryMove& place, const SearchOptions& options) {
  std::vector<Way> ways;
  for (Worst& w : worst)
    for (Scenario& s : variants(w.fault, w.reaction, options)) ways.push_back({&w, std::move(s), {}});
  const bool own_ways = fault_has_two_ways(worst.front().fault, options.sizes);
  const std::vector<double> times = instants(place);
  for (FaultySide side : {FaultySide::a, FaultySide::b})
    for (bool late_a : {true, false}) {
      std::vector<Way*> group;
      for (Way& way : ways)
        if (way.scenario.side == side && (own_ways ? way.scenario.late_a == late_a : late_a)) group.push_back(&way);
      if (!group.empty()) run_ways(place, group, times);
    }
  for (Way& way : ways) {
    LookLine line{&place, way.scenario, {}};
    for (size_t i = 0; i < times.size(); ++i) {
      line.scenario.fault_s = times[i];
      line.looks.push_back({times[i], note(*way.worst, place, line.scenario, way.seen[i])});
    }
    way.worst->lines.push_back(std::move(line));
  }
}

std::vector<double> instants(const OrdinaryMove& ordinary) {
  constexpr int between = 2;
  std::vector<double> out;
  const auto& borders = ordinary.borders_s;
  for (size_t i = 0; i + 1 < borders.size(); ++i)
    for (int k = 0; k < between; ++k) out.push_back(borders[i] + k * (borders[i + 1] - borders[i]) / between);
  out.push_back(borders.back());
  return out;
}

std::vector<Scenario> variants(FaultKind fault, Reaction reaction, const SearchOptions& o) {
  std::vector<Scenario> out;
  for (FaultySide side : {FaultySide::a, FaultySide::b})
    for (bool late_a : {true, false}) {
      if (same_on_both_sides(fault) && side == FaultySide::b) continue;
      if (!late_a && !has_two_ways(fault, reaction, o.sizes)) continue;
      out.push_back({.fault = fault,
                     .side = side,
                     .reaction = reaction,
                     .latency_s = o.latency_s,
                     .trip = o.trip,
                     .sizes = o.sizes,
                     .late_a = late_a});
    }
  return out;
}

}  // namespace evenbeam::protection
