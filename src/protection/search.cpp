#include "protection/search.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>

#include "base/side_by_side.h"

namespace evenbeam::protection {
namespace {

constexpr size_t kNarrowed = 4;  // candidates followed in time

bool has_two_ways(FaultKind fault, Reaction reaction, const FaultSizes& sizes) {
  if (power_is_gone(fault)) return sizes.brakes_known;
  return fault == FaultKind::feedback_slip || fault == FaultKind::command_step ||
         fault == FaultKind::carriage_thrown || reaction == Reaction::off_brakes;
}
bool same_on_both_sides(FaultKind fault) {
  return power_is_gone(fault) || fault == FaultKind::command_step || fault == FaultKind::carriage_thrown;
}

double look(Worst& worst, const OrdinaryMove& ordinary, const Scenario& s) {
  const FaultOutcome out = run_fault(ordinary, s);
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

// Golden section between the coarse neighbours of the candidate's instant.
void narrow(Worst& worst, Candidate& c) {
  constexpr double golden = 0.6180339887498949;
  const std::vector<double> grid = instants(*c.place);
  const double best_s = c.scenario.fault_s;
  const auto above = std::upper_bound(grid.begin(), grid.end(), best_s + 1e-9);
  const auto below = std::lower_bound(grid.begin(), grid.end(), best_s - 1e-9);
  double high = above == grid.end() ? best_s : *above, low = below == grid.begin() ? best_s : *std::prev(below);
  Scenario s = c.scenario;
  const auto peak = [&](double t) {
    s.fault_s = t;
    const double size = look(worst, *c.place, s);
    if (size > c.peak_skew_m) c.peak_skew_m = size, c.scenario = s;
    return size;
  };
  double left = high - golden * (high - low), right = low + golden * (high - low);
  double at_left = peak(left), at_right = peak(right);
  for (int i = 0; i < 9; ++i) {
    if (at_left > at_right) {
      high = right, right = left, at_right = at_left;
      at_left = peak(left = high - golden * (high - low));
    } else {
      low = left, left = right, at_left = at_right;
      at_right = peak(right = low + golden * (high - low));
    }
  }
}

// The largest few, one for each place, side and way.
std::vector<Candidate> best_of(std::vector<Candidate> all) {
  std::stable_sort(all.begin(), all.end(),
                   [](const Candidate& a, const Candidate& b) { return a.peak_skew_m > b.peak_skew_m; });
  std::vector<Candidate> out;
  for (const Candidate& c : all) {
    const bool taken = std::any_of(out.begin(), out.end(), [&](const Candidate& o) {
      return o.place == c.place && o.scenario.side == c.scenario.side && o.scenario.late_a == c.scenario.late_a &&
             std::abs(o.scenario.fault_s - c.scenario.fault_s) < 0.15 * c.place->move.duration_s;
    });
    if (!taken) out.push_back(c);
    if (out.size() == kNarrowed) break;
  }
  return out;
}

}  // namespace

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

Worst worst_case(const SearchRange& range, FaultKind fault, Reaction reaction, const SearchOptions& options) {
  Worst worst{.fault = fault, .reaction = reaction};
  std::vector<Candidate> all;
  for (const OrdinaryMove& place : range.coarse)
    for (Scenario s : variants(fault, reaction, options))
      for (double t : instants(place)) {
        s.fault_s = t;
        all.push_back({look(worst, place, s), s, &place});
      }
  worst.best = best_of(std::move(all));
  if (options.refine) refine(range, worst);
  return worst;
}

void refine(const SearchRange& range, Worst& worst) {
  std::vector<Candidate> elsewhere;
  for (Candidate& c : worst.best) narrow(worst, c);
  for (const Candidate& c : worst.best)
    for (const OrdinaryMove& place : range.fine)
      if (std::abs(place.move.duration_s - c.place->move.duration_s) < 1e-9)
        elsewhere.push_back({look(worst, place, c.scenario), c.scenario, &place});
  for (Candidate& c : best_of(std::move(elsewhere))) narrow(worst, c);
}

Reaction same_as(FaultKind fault, Reaction reaction) {
  if (power_is_gone(fault) && reaction != Reaction::dynamic_braking) return Reaction::off;
  if (reaction == Reaction::follow && !one_drive_failed(fault)) return Reaction::controlled_stop;
  return reaction;
}

std::vector<Worst> worst_cases(const SearchRange& range, const std::vector<Pair>& pairs, const SearchOptions& options,
                               int threads, const std::function<bool(double)>& progress) {
  std::vector<Worst> out(pairs.size());
  // A pair that is the same as an earlier one takes its answer.
  std::vector<size_t> first(pairs.size()), own;
  for (size_t i = 0; i < pairs.size(); ++i) {
    const Reaction reaction = same_as(pairs[i].fault, pairs[i].reaction);
    first[i] = i;
    for (size_t j = 0; j < i && first[i] == i; ++j)
      if (pairs[j].fault == pairs[i].fault && same_as(pairs[j].fault, pairs[j].reaction) == reaction) first[i] = j;
    if (first[i] == i) own.push_back(i);
  }
  std::atomic<bool> cancelled{false};
  std::mutex reporting;
  size_t done = 0;
  base::side_by_side(own.size(), static_cast<size_t>(threads), [&](size_t k) {
    if (cancelled) return;
    const size_t i = own[k];
    out[i] = worst_case(range, pairs[i].fault, pairs[i].reaction, options);
    const std::lock_guard lock(reporting);
    ++done;
    if (progress && !progress(static_cast<double>(done) / static_cast<double>(own.size()))) cancelled = true;
  });
  for (size_t i = 0; i < pairs.size() && !cancelled; ++i) {
    if (first[i] == i) continue;
    out[i] = out[first[i]];
    out[i].runs = 0;
    out[i].reaction = out[i].scenario.reaction = pairs[i].reaction;
    for (Candidate& c : out[i].best) c.scenario.reaction = pairs[i].reaction;
  }
  if (cancelled) out.clear();
  return out;
}

}  // namespace evenbeam::protection
