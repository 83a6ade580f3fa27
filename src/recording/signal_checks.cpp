#include "recording/signal_checks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace evenbeam::recording {
namespace {

using base::Finding;
using base::Verdict;

Finding finding(const Recording& r, std::string id, Verdict verdict, std::string text, std::string next) {
  Finding f;
  f.id = std::move(id);
  f.verdict = verdict;
  f.text = std::move(text);
  f.recording = r.name;
  f.next = std::move(next);
  return f;
}

struct Named {
  const char* key;   // in ids
  const char* name;  // in sentences
  const std::vector<double>* values;
};
std::vector<Named> sampled_columns(const Recording& r) {
  return {{"reference_a", "reference of A", &r.reference_a_m},
          {"reference_b", "reference of B", &r.reference_b_m},
          {"position_a", "position of A", &r.position_a_m},
          {"position_b", "position of B", &r.position_b_m},
          {"output_a", "output of A", &r.force_a_n},
          {"output_b", "output of B", &r.force_b_n},
          {"reference_y", "reference of the cross axis", &r.reference_y_m},
          {"position_y", "position of the cross axis", &r.position_y_m}};
}

void check_missing(Recording& r) {
  for (const Named& column : sampled_columns(r)) {
    std::size_t missing = 0, first = 0, last = 0;
    for (std::size_t k = 0; k < column.values->size(); ++k)
      if (std::isnan((*column.values)[k])) {
        if (missing++ == 0) first = k;
        last = k;
      }
    if (missing == 0) continue;
    const bool all = missing == column.values->size();
    Finding f =
        finding(r, fmt::format("import_missing_{}", column.key), Verdict::attention,
                all ? fmt::format("The {} holds no value at all; it is left out.", column.name)
                    : fmt::format("The {} misses {} of {} samples.", column.name, missing, column.values->size()),
                "Where the missing samples lie in a motion, record it again.");
    f.value = static_cast<double>(missing);
    f.unit = "1";
    f.from_s = r.time_s[first];
    f.to_s = r.time_s[last];
    r.findings.push_back(f);
  }
  for (auto* values : {&r.reference_a_m, &r.reference_b_m, &r.position_a_m, &r.position_b_m, &r.force_a_n,
                       &r.force_b_n, &r.reference_y_m, &r.position_y_m})
    if (std::all_of(values->begin(), values->end(), [](double v) { return std::isnan(v); })) values->clear();
}

// Share of samples that repeat their neighbour although the column moves by at least three counts a sample around
// them.
void check_stuck(Recording& r, const char* side, const std::vector<double>& x, double count_m) {
  constexpr std::size_t half = 5;
  if (x.size() < 4 * half || count_m <= 0) return;
  std::size_t moving = 0, stuck = 0;
  double first_s = 0;
  for (std::size_t k = half; k + half < x.size(); ++k) {
    if (!(std::abs(x[k + half] - x[k - half]) > 3.0 * count_m * 2 * half)) continue;
    ++moving;
    if (x[k] == x[k - 1] && stuck++ == 0) first_s = r.time_s[k];
  }
  if (moving < 20 || static_cast<double>(stuck) < 0.02 * static_cast<double>(moving)) return;
  const double part = static_cast<double>(stuck) / static_cast<double>(moving);
  Finding f =
      finding(r, fmt::format("import_stuck_{}", side[0] == 'A' ? 'a' : 'b'), Verdict::attention,
              fmt::format("The position of {} repeats the sample before it in {:.0f} % of the samples in motion: "
                          "it is refreshed more slowly than it is recorded.",
                          side, 100 * part),
              "Record at the rate at which the position is refreshed, or take it from the drive's own recorder.");
  f.value = part;
  f.unit = "1";
  f.limit = 0.02;
  f.source = "own rule: one sample in fifty, where the motion is above three counts a sample";
  f.from_s = first_s;
  r.findings.push_back(f);
}

void check_clipped(Recording& r, const char* side, const std::vector<double>& force_n,
                   const std::optional<double>& peak_n) {
  if (!peak_n || force_n.empty()) return;
  std::size_t clipped = 0, first = 0, last = 0;
  for (std::size_t k = 0; k < force_n.size(); ++k)
    if (std::abs(force_n[k]) >= 0.9995 * *peak_n) {
      if (clipped++ == 0) first = k;
      last = k;
    }
  if (clipped == 0) return;
  const double part = static_cast<double>(clipped) / static_cast<double>(force_n.size());
  Finding f = finding(
      r, fmt::format("import_clipped_{}", side[0] == 'A' ? 'a' : 'b'), Verdict::attention,
      fmt::format("The output of {} stands at its limit in {} samples ({:.2g} %).", side, clipped, 100 * part),
      "Linear findings from this span do not hold: repeat the move with less acceleration or excitation.");
  f.value = part;
  f.unit = "1";
  f.limit = 0;
  f.source = "peak force of machine.toml";
  f.from_s = r.time_s[first];
  f.to_s = r.time_s[last];
  r.findings.push_back(f);
}

void check_count(Recording& r, const char* side, double seen_m, const std::optional<double>& stated_m) {
  if (!stated_m || seen_m <= 0) return;
  const double ratio = seen_m / *stated_m;
  if (std::abs(ratio - std::max(1.0, std::round(ratio))) < 0.02 && ratio < 1.5) return;
  const bool finer = ratio < 0.98;
  Finding f = finding(
      r, fmt::format("import_count_{}", side[0] == 'A' ? 'a' : 'b'), Verdict::attention,
      fmt::format("The position of {} moves in steps of {:.4g} um where machine.toml says {:.4g} um a count: {}.",
                  side, seen_m * 1e6, *stated_m * 1e6,
                  finer ? "the unit or the count is wrong, or the controller interpolates"
                        : "the file is written coarser than the feedback, or the unit or the count is wrong"),
      "Move one side by a known distance against a gauge and compare, before any number from this file is believed.");
  f.value = seen_m;
  f.unit = "m";
  f.limit = *stated_m;
  f.source = "count of machine.toml";
  r.findings.push_back(f);
}

void check_rate(Recording& r, const machine::Machine& machine) {
  if (!machine.servo_period_s || r.period_s < 1.01 * *machine.servo_period_s) return;
  const double ratio = r.period_s / *machine.servo_period_s;
  Finding f = finding(r, "import_recorder_slower", Verdict::pass,
                      fmt::format("The recorder takes one sample in {:.3g} loop cycles: what happens above {:.4g} Hz "
                                  "folds down and is not to be trusted.",
                                  ratio, 0.5 / r.period_s),
                      "");
  f.value = r.period_s;
  f.unit = "s";
  f.limit = *machine.servo_period_s;
  f.source = "servo period of machine.toml";
  r.findings.push_back(f);
}

// The stated count where the step seen is that, up to the rounding of differences.
double at_stated(double seen_m, const std::optional<double>& stated_m) {
  return stated_m && std::abs(seen_m - *stated_m) < 5e-3 * *stated_m ? *stated_m : seen_m;
}

}  // namespace

// The largest length of which all steps are multiples, by Euclid with a tolerance: the smallest step itself is not
// enough where the file holds every n-th sample of a fast move.
double smallest_count(const std::vector<double>& position_m) {
  constexpr std::size_t kEnoughSteps = 5000;
  double largest = 0, smallest = std::numeric_limits<double>::infinity();
  for (double x : position_m)
    if (std::isfinite(x)) largest = std::max(largest, std::abs(x));
  const double rounding = 64 * std::numeric_limits<double>::epsilon() * largest;
  std::vector<double> steps;
  for (std::size_t k = 1; k < position_m.size(); ++k) {
    const double step = std::abs(position_m[k] - position_m[k - 1]);
    if (!(step > rounding)) continue;  // false for NaN
    smallest = std::min(smallest, step);
    if (steps.size() < kEnoughSteps) steps.push_back(step);
  }
  if (!std::isfinite(smallest)) return 0;
  const double tolerance = std::max(8 * rounding, 1e-3 * smallest);
  double common = smallest;
  for (double step : steps) {
    double rest = std::remainder(step, common);
    while (std::abs(rest) > tolerance) {
      const double next = std::remainder(common, rest);
      common = std::abs(rest);
      rest = next;
    }
  }
  return common;
}

void check_signals(Recording& r, const machine::Machine& machine) {
  check_missing(r);
  r.count_a_m = at_stated(smallest_count(r.position_a_m), machine.a.count_m);
  r.count_b_m = at_stated(smallest_count(r.position_b_m), machine.b.count_m);
  r.count_y_m = smallest_count(r.position_y_m);
  check_count(r, "A", r.count_a_m, machine.a.count_m);
  check_count(r, "B", r.count_b_m, machine.b.count_m);
  check_stuck(r, "A", r.position_a_m, r.count_a_m);
  check_stuck(r, "B", r.position_b_m, r.count_b_m);
  check_clipped(r, "A", r.force_a_n, machine.a.peak_force_n);
  check_clipped(r, "B", r.force_b_n, machine.b.peak_force_n);
  check_rate(r, machine);
}

}  // namespace evenbeam::recording
