#include "protection/search.h"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <mutex>
#include <queue>

#include "base/side_by_side.h"

namespace evenbeam::protection {
namespace {

constexpr size_t kNarrowed = 4;  // peaks followed in time
constexpr int kGoldenSteps = 7;
constexpr int kBetween = 40;        // looks between the coarse ones, at most
constexpr int kBetweenMore = 60;    // more of them where the pair is refined
constexpr double kSteeper = 2;      // than the slopes seen
constexpr double kSlack = 0.003;    // of the worst: no more is looked for
constexpr double kFinest = 0.0025;  // of the move: stretches shorter than that are left to the narrowing

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

// Between two looks that neighbour: the most that may lie there if the peak changes no faster than twice the slopes
// seen around it (or a tenth of what is usual on steep stretches of the other lines). Taken, not proven.
struct Stretch {
  double most_m = 0, slope = 0;
  size_t line = 0;
  Look from, to;
  bool operator<(const Stretch& other) const { return most_m < other.most_m; }
};
double slope_between(const Look& a, const Look& b) {
  return b.at_s > a.at_s ? std::abs(b.peak_skew_m - a.peak_skew_m) / (b.at_s - a.at_s) : 0;
}
Stretch stretch(size_t line, const Look& from, const Look& to, double slope, double usual) {
  const double most = kSteeper * std::max(slope, 0.1 * usual) * (to.at_s - from.at_s) / 2;
  return {(from.peak_skew_m + to.peak_skew_m) / 2 + most, slope, line, from, to};
}

// Median of the lines' steepest slopes.
double usual_slope(const std::vector<LookLine>& lines) {
  std::vector<double> steepest;
  for (const LookLine& line : lines) {
    double most = 0;
    for (size_t i = 0; i + 1 < line.looks.size(); ++i)
      most = std::max(most, slope_between(line.looks[i], line.looks[i + 1]));
    steepest.push_back(most);
  }
  std::nth_element(steepest.begin(), steepest.begin() + static_cast<long>(steepest.size() / 2), steepest.end());
  return steepest[steepest.size() / 2];
}

std::priority_queue<Stretch> stretches_of(const std::vector<LookLine>& lines, double usual) {
  std::priority_queue<Stretch> open;
  for (size_t l = 0; l < lines.size(); ++l) {
    const std::vector<Look>& looks = lines[l].looks;
    std::vector<double> slopes;
    for (size_t i = 0; i + 1 < looks.size(); ++i) slopes.push_back(slope_between(looks[i], looks[i + 1]));
    for (size_t i = 0; i < slopes.size(); ++i) {
      const double around =
          std::max({slopes[i == 0 ? 0 : i - 1], slopes[i], slopes[std::min(i + 1, slopes.size() - 1)]});
      open.push(stretch(l, looks[i], looks[i + 1], around, usual));
    }
  }
  return open;
}

// Looks where there is most room for a larger peak.
void look_between(Worst& worst, int most) {
  const double usual = usual_slope(worst.lines);
  std::priority_queue<Stretch> open = stretches_of(worst.lines, usual);
  for (int more = 0; more < most && !open.empty() && open.top().most_m > (1 + kSlack) * worst.peak_skew_m;) {
    const Stretch s = open.top();
    open.pop();
    LookLine& line = worst.lines[s.line];
    if (s.to.at_s - s.from.at_s < kFinest * line.place->move.duration_s) continue;
    Look middle{.at_s = (s.from.at_s + s.to.at_s) / 2};
    line.scenario.fault_s = middle.at_s;
    middle.peak_skew_m = look(worst, *line.place, line.scenario);
    ++more;
    const auto after = [](const Look& a, const Look& b) { return a.at_s < b.at_s; };
    line.looks.insert(std::upper_bound(line.looks.begin(), line.looks.end(), middle, after), middle);
    const double slope = std::max({slope_between(s.from, middle), slope_between(middle, s.to), s.slope / 2});
    open.push(stretch(s.line, s.from, middle, slope, usual));
    open.push(stretch(s.line, middle, s.to, slope, usual));
  }
}

void look_over(Worst& worst, std::vector<LookLine>& lines, const OrdinaryMove& place,
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
    if (same_place(place, at)) look_over(worst, lines, place, ways);
  const std::vector<Peak> peaks = peaks_of(lines);
  for (size_t i = 0; i < std::min<size_t>(2, peaks.size()); ++i)
    narrow(worst, *lines[peaks[i].line].place, lines[peaks[i].line].scenario, peaks[i]);
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
  for (const OrdinaryMove& place : range.coarse)
    look_over(worst, worst.lines, place, variants(fault, reaction, options));
  look_between(worst, kBetween);
  if (options.refine) refine(range, worst);
  return worst;
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
    for (LookLine& line : out[i].lines) line.scenario.reaction = pairs[i].reaction;
  }
  if (cancelled) out.clear();
  return out;
}

}  // namespace evenbeam::protection
