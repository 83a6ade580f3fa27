#include "acceptance/iso230_2.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/input_error.h"

namespace evenbeam::acceptance {

namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

void refuse(const std::vector<TargetRuns>& runs) {
  std::vector<base::Trouble> troubles;
  const auto trouble = [&](std::string found, std::string expected) {
    troubles.push_back({.file = "positioning table",
                        .found = std::move(found),
                        .expected = std::move(expected),
                        .next = "Correct or leave out this target."});
  };
  if (runs.empty()) trouble("no targets", "at least one target position");
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const TargetRuns& r = runs[i];
    const std::string at = fmt::format("target {} m", r.target_m);
    if (!std::isfinite(r.target_m)) trouble(at, "a number");
    if (i > 0 && r.target_m == runs[i - 1].target_m) trouble(at + " twice", "each target once");
    if (r.up_m.empty() != runs[0].up_m.empty() || r.down_m.empty() != runs[0].down_m.empty())
      trouble(at + " has other directions than the first", "the same directions at every target");
    for (const auto* x : {&r.up_m, &r.down_m}) {
      if (x->size() == 1) trouble(at + " has one run in a direction", "two runs or more, the standard has five");
      for (const double v : *x)
        if (!std::isfinite(v)) trouble(at + " has a deviation that is not a number", "a number a run");
    }
    if (r.up_m.empty() && r.down_m.empty()) trouble(at + " has no runs", "two runs or more");
  }
  if (!troubles.empty()) throw base::InputError(troubles);
}

double mean_of(const std::vector<double>& x) {
  if (x.empty()) return nan;
  double sum = 0;
  for (const double v : x) sum += v - x[0];  // about the first value, so that equal runs give exactly that value
  return x[0] + sum / double(x.size());
}

double deviation_of(const std::vector<double>& x, double mean) {
  if (x.size() < 2) return nan;
  double square = 0;
  for (const double v : x) square += (v - mean) * (v - mean);
  return std::sqrt(square / double(x.size() - 1));
}

TargetStatistics statistics_of(const TargetRuns& r) {
  TargetStatistics t{.target_m = r.target_m};
  t.mean_up_m = mean_of(r.up_m);
  t.mean_down_m = mean_of(r.down_m);
  t.mean_m = (t.mean_up_m + t.mean_down_m) / 2;
  t.deviation_up_m = deviation_of(r.up_m, t.mean_up_m);
  t.deviation_down_m = deviation_of(r.down_m, t.mean_down_m);
  t.reversal_m = t.mean_up_m - t.mean_down_m;
  t.repeatability_up_m = 4 * t.deviation_up_m;
  t.repeatability_down_m = 4 * t.deviation_down_m;
  t.repeatability_m = std::max({2 * t.deviation_up_m + 2 * t.deviation_down_m + std::abs(t.reversal_m),
                                t.repeatability_up_m, t.repeatability_down_m});
  return t;
}

// Largest and smallest of a quantity over the targets; NaN of an absent direction stays NaN.
template <typename Of>
double largest(const std::vector<TargetStatistics>& targets, Of of) {
  double out = of(targets[0]);
  for (const TargetStatistics& t : targets) out = std::max(out, of(t));
  return out;
}
template <typename Of>
double smallest(const std::vector<TargetStatistics>& targets, Of of) {
  return -largest(targets, [&](const TargetStatistics& t) { return -of(t); });
}

void note_plan(const std::vector<TargetRuns>& runs, std::vector<std::string>& out) {
  std::size_t fewest = 1000;
  for (const TargetRuns& r : runs)
    for (const auto* x : {&r.up_m, &r.down_m})
      if (!x->empty()) fewest = std::min(fewest, x->size());
  if (fewest < 5) out.push_back(fmt::format("{} runs in a direction where the standard has 5", fewest));
  const double length_m = runs.back().target_m - runs.front().target_m;
  const std::size_t wanted = std::max<std::size_t>(5, std::size_t(std::ceil(5 * length_m)));
  if (length_m <= 2 && runs.size() < wanted)
    out.push_back(fmt::format("{} targets where the standard has at least {}", runs.size(), wanted));
  if (runs[0].up_m.empty() || runs[0].down_m.empty())
    out.push_back("one direction only: bidirectional parameters and reversal are unknown");
}

}  // namespace

Positioning positioning(std::vector<TargetRuns> runs) {
  if (std::all_of(runs.begin(), runs.end(), [](const TargetRuns& r) { return std::isfinite(r.target_m); }))
    std::sort(runs.begin(), runs.end(), [](const auto& a, const auto& b) { return a.target_m < b.target_m; });
  refuse(runs);
  Positioning out;
  for (const TargetRuns& r : runs) out.targets.push_back(statistics_of(r));
  const auto& t = out.targets;
  using S = const TargetStatistics&;
  out.reversal_m = largest(t, [](S s) { return std::abs(s.reversal_m); });
  out.mean_reversal_m = 0;
  for (S s : t) out.mean_reversal_m += s.reversal_m / double(t.size());
  out.repeatability_up_m = largest(t, [](S s) { return s.repeatability_up_m; });
  out.repeatability_down_m = largest(t, [](S s) { return s.repeatability_down_m; });
  out.repeatability_m = largest(t, [](S s) { return s.repeatability_m; });
  const double up_high = largest(t, [](S s) { return s.mean_up_m; });
  const double up_low = smallest(t, [](S s) { return s.mean_up_m; });
  const double down_high = largest(t, [](S s) { return s.mean_down_m; });
  const double down_low = smallest(t, [](S s) { return s.mean_down_m; });
  out.systematic_up_m = up_high - up_low;
  out.systematic_down_m = down_high - down_low;
  out.systematic_m = std::max(up_high, down_high) - std::min(up_low, down_low);
  out.mean_deviation_m = largest(t, [](S s) { return s.mean_m; }) - smallest(t, [](S s) { return s.mean_m; });
  const double up_top = largest(t, [](S s) { return s.mean_up_m + 2 * s.deviation_up_m; });
  const double up_floor = smallest(t, [](S s) { return s.mean_up_m - 2 * s.deviation_up_m; });
  const double down_top = largest(t, [](S s) { return s.mean_down_m + 2 * s.deviation_down_m; });
  const double down_floor = smallest(t, [](S s) { return s.mean_down_m - 2 * s.deviation_down_m; });
  out.accuracy_up_m = up_top - up_floor;
  out.accuracy_down_m = down_top - down_floor;
  out.accuracy_m = std::max(up_top, down_top) - std::min(up_floor, down_floor);
  if (runs[0].up_m.empty() || runs[0].down_m.empty())
    out.repeatability_m = out.systematic_m = out.accuracy_m = nan;  // max() may have let one direction through
  note_plan(runs, out.short_of_plan);
  return out;
}

std::vector<NamedParameter> named_parameters(const Positioning& p) {
  return {{"B", "reversal value of the axis", p.reversal_m},
          {"B\xCC\x84", "mean reversal value of the axis", p.mean_reversal_m},
          {"M", "mean bidirectional positioning deviation", p.mean_deviation_m},
          {"E\xE2\x86\x91", "unidirectional systematic positioning error, rising", p.systematic_up_m},
          {"E\xE2\x86\x93", "unidirectional systematic positioning error, falling", p.systematic_down_m},
          {"E", "bidirectional systematic positioning error", p.systematic_m},
          {"R\xE2\x86\x91", "unidirectional positioning repeatability, rising", p.repeatability_up_m},
          {"R\xE2\x86\x93", "unidirectional positioning repeatability, falling", p.repeatability_down_m},
          {"R", "bidirectional positioning repeatability", p.repeatability_m},
          {"A\xE2\x86\x91", "unidirectional positioning accuracy, rising", p.accuracy_up_m},
          {"A\xE2\x86\x93", "unidirectional positioning accuracy, falling", p.accuracy_down_m},
          {"A", "bidirectional positioning accuracy", p.accuracy_m}};
}

}  // namespace evenbeam::acceptance
