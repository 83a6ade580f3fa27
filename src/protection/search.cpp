#include "protection/search.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>

#include "base/side_by_side.h"
#include "protection/look.h"

namespace evenbeam::protection {
namespace {

constexpr size_t kNarrowed = 4;  // peaks followed in time
constexpr int kGoldenSteps = 7;
constexpr int kBetween = 40;      // looks between the coarse ones, at most
constexpr int kBetweenMore = 60;  // more of them where the pair is refined

// A stretch of a line in which a peak may hide.
struct Peak {
  double peak_skew_m = 0, low_s = 0, high_s = 0, at_s = 0;
  size_t line = 0;
};

void narrow(Worst& worst, const OrdinaryMove& place, Scenario s, const Peak& within) {
  constexpr double golden = 0.6180339887498949;
  double low = within.low_s, high = within.high_s;
  const auto peak = [&](double t) {
    s.fault_s = t;
    return look(worst, place, s);
  };
  double left = high - golden * (high - low), right = low + golden * (high - low);
  double at_left = peak(left), at_right = peak(right);
  for (int i = 0; i < kGoldenSteps; ++i) {
    if (at_left > at_right) {
      high = right, right = left, at_right = at_left;
      at_left = peak(left = high - golden * (high - low));
    } else {
      low = left, left = right, at_left = at_right;
      at_right = peak(right = low + golden * (high - low));
    }
  }
}

// The largest local maxima of the looks, between their neighbours.
std::vector<Peak> peaks_of(const std::vector<LookLine>& lines) {
  std::vector<Peak> out;
  for (size_t l = 0; l < lines.size(); ++l) {
    const std::vector<Look>& looks = lines[l].looks;
    for (size_t i = 0; i < looks.size(); ++i) {
      const Look &before = looks[i == 0 ? 0 : i - 1], &after = looks[std::min(i + 1, looks.size() - 1)];
      if (looks[i].peak_skew_m < before.peak_skew_m || looks[i].peak_skew_m < after.peak_skew_m) continue;
      out.push_back({looks[i].peak_skew_m, before.at_s, after.at_s, looks[i].at_s, l});
    }
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const Peak& a, const Peak& b) { return a.peak_skew_m > b.peak_skew_m; });
  if (out.size() > kNarrowed) out.resize(kNarrowed);
  return out;
}
void look_along(Worst& worst, std::vector<LookLine>& lines, const OrdinaryMove& place,
                const std::vector<Scenario>& ways) {
  for (const Scenario& way : ways) {
    LookLine line{&place, way, {}};
    for (double t : instants(place)) {
      line.scenario.fault_s = t;
      line.looks.push_back({t, look(worst, place, line.scenario)});
    }
    lines.push_back(std::move(line));
  }
}

bool same_place(const OrdinaryMove& a, const OrdinaryMove& b) {
  return a.place.carriage_y_m == b.place.carriage_y_m && a.place.payload_kg == b.place.payload_kg &&
         a.model.standing_skew_m == b.model.standing_skew_m;
}

// Lower speeds at one place, all sides and ways that were looked at there.
void look_slower(const SearchRange& range, Worst& worst, const OrdinaryMove& at) {
  std::vector<Scenario> ways;
  for (const LookLine& line : worst.lines)
    if (line.place == &at) ways.push_back(line.scenario);
  std::vector<LookLine> lines;
  for (const OrdinaryMove& place : range.slower)
    if (same_place(place, at)) look_along(worst, lines, place, ways);
  const std::vector<Peak> peaks = peaks_of(lines);
  for (size_t i = 0; i < std::min<size_t>(2, peaks.size()); ++i)
    narrow(worst, *lines[peaks[i].line].place, lines[peaks[i].line].scenario, peaks[i]);
}

std::vector<Worst> worst_of_fault(const SearchRange& range, FaultKind fault, const std::vector<Reaction>& reactions,
                                  const SearchOptions& options) {
  std::vector<Worst> out;
  for (Reaction reaction : reactions) out.push_back({.fault = fault, .reaction = reaction});
  for (const OrdinaryMove& place : range.coarse) look_over(out, place, options);
  for (Worst& worst : out) {
    look_between(worst, kBetween);
    if (options.refine) refine(range, worst);
  }
  return out;
}

}  // namespace

Worst worst_case(const SearchRange& range, FaultKind fault, Reaction reaction, const SearchOptions& options) {
  return worst_of_fault(range, fault, {reaction}, options).front();
}

void refine(const SearchRange& range, Worst& worst) {
  look_between(worst, kBetweenMore);
  std::vector<LookLine> elsewhere;
  std::vector<Peak> there;
  const std::vector<Peak> peaks = peaks_of(worst.lines);
  for (const Peak& p : peaks) {
    const LookLine& line = worst.lines[p.line];
    narrow(worst, *line.place, line.scenario, p);
    Scenario s = line.scenario;
    s.fault_s = p.at_s;
    for (const OrdinaryMove& place : range.fine) {
      if (std::abs(place.move.duration_s - line.place->move.duration_s) > 1e-9) continue;
      there.push_back({look(worst, place, s), p.low_s, p.high_s, p.at_s, elsewhere.size()});
      elsewhere.push_back({&place, s, {}});
    }
  }
  std::stable_sort(there.begin(), there.end(),
                   [](const Peak& a, const Peak& b) { return a.peak_skew_m > b.peak_skew_m; });
  for (size_t i = 0; i < std::min(kNarrowed, there.size()); ++i)
    narrow(worst, *elsewhere[there[i].line].place, elsewhere[there[i].line].scenario, there[i]);
  if (!peaks.empty()) look_slower(range, worst, *worst.lines[peaks.front().line].place);
}

Reaction same_as(FaultKind fault, Reaction reaction) {
  if (power_is_gone(fault) && reaction != Reaction::dynamic_braking) return Reaction::off;
  if (reaction == Reaction::follow && !one_drive_failed(fault)) return Reaction::controlled_stop;
  return reaction;
}

std::vector<Worst> worst_cases(const SearchRange& range, const std::vector<Pair>& pairs, const SearchOptions& options,
                               int threads, const std::function<bool(double)>& progress) {
  // Faults in the order of the pairs, each with the reactions that differ for it.
  struct Task {
    FaultKind fault;
    std::vector<Reaction> reactions;
    std::vector<Worst> worst;
  };
  std::vector<Task> tasks;
  const auto task_of = [&](FaultKind fault) {
    return std::find_if(tasks.begin(), tasks.end(), [&](const Task& t) { return t.fault == fault; });
  };
  for (const Pair& pair : pairs) {
    if (task_of(pair.fault) == tasks.end()) tasks.push_back({pair.fault, {}, {}});
    std::vector<Reaction>& known = task_of(pair.fault)->reactions;
    const Reaction reaction = same_as(pair.fault, pair.reaction);
    if (std::find(known.begin(), known.end(), reaction) == known.end()) known.push_back(reaction);
  }
  std::atomic<bool> cancelled{false};
  std::mutex reporting;
  size_t done = 0;
  base::side_by_side(tasks.size(), static_cast<size_t>(threads), [&](size_t i) {
    if (cancelled) return;
    tasks[i].worst = worst_of_fault(range, tasks[i].fault, tasks[i].reactions, options);
    const std::lock_guard lock(reporting);
    ++done;
    if (progress && !progress(static_cast<double>(done) / static_cast<double>(tasks.size()))) cancelled = true;
  });
  std::vector<Worst> out;
  for (size_t i = 0; i < pairs.size() && !cancelled; ++i) {
    const Pair& pair = pairs[i];
    for (const Worst& found : task_of(pair.fault)->worst)
      if (found.reaction == same_as(pair.fault, pair.reaction)) out.push_back(found);
    // A pair that is the same as an earlier one takes its answer.
    const auto same = [&](const Pair& p) {
      return p.fault == pair.fault && same_as(p.fault, p.reaction) == out.back().reaction;
    };
    if (std::any_of(pairs.begin(), pairs.begin() + static_cast<long>(i), same)) out.back().runs = 0;
    out.back().reaction = out.back().scenario.reaction = pair.reaction;
    for (LookLine& line : out.back().lines) line.scenario.reaction = pair.reaction;
  }
  return out;
}

}  // namespace evenbeam::protection
