#include "homing/marks.h"

#include <algorithm>
#include <cmath>

#include "identification/motion_rows.h"

namespace evenbeam::homing {
namespace {

using math::Estimate;
using recording::Recording;

// First finite sample of a latched column.
std::optional<size_t> first_latched(const std::vector<double>& latched) {
  for (size_t i = 0; i < latched.size(); ++i)
    if (std::isfinite(latched[i])) return i;
  return std::nullopt;
}

double travel(const Recording& r, size_t i) {
  return has_references(r) ? (r.reference_a_m[i] + r.reference_b_m[i]) / 2
                           : (r.position_a_m[i] + r.position_b_m[i]) / 2;
}

double speed_around(const Recording& r, size_t i) {
  const size_t half = static_cast<size_t>(std::max(1.0, 0.02 / r.period_s));
  const size_t from = i > half ? i - half : 0, to = std::min(i + half, r.time_s.size() - 1);
  return to > from ? (travel(r, to) - travel(r, from)) / (r.time_s[to] - r.time_s[from]) : 0;
}

const identification::SwitchOn* switch_on(const identification::MotionFit& motion, const Recording& r) {
  const std::string name = identification::switch_on_of(r);
  for (const auto& s : motion.switch_ons)
    if (s.name == name) return &s;
  return nullptr;
}

void measure_way(SearchRun& run, const Recording& r, double free_m) {
  for (size_t i = 0; i < r.time_s.size(); ++i) {
    const double skew = r.position_a_m[i] - r.position_b_m[i];
    if (std::isfinite(skew))
      run.largest_skew_off_free_m = std::max(run.largest_skew_off_free_m, std::abs(skew - free_m));
    if (!has_forces(r)) continue;
    const double fight = (r.force_a_n[i] - r.force_b_n[i]) / 2;
    if (std::isfinite(fight)) run.largest_fight_n = std::max(run.largest_fight_n, std::abs(fight));
  }
}

SearchRun look_at(const Recording& r, const identification::MotionFit& motion) {
  SearchRun run{.name = r.name, .from_s = r.time_s.front(), .to_s = r.time_s.back()};
  const auto a = first_latched(r.latched_a_m), b = first_latched(r.latched_b_m);
  if (a) run.latch_a_m = r.latched_a_m[*a], run.seen_a_s = r.time_s[*a];
  if (b) run.latch_b_m = r.latched_b_m[*b], run.seen_b_s = r.time_s[*b];
  run.both_seen = a && b;
  if (run.both_seen) {
    run.speed_m_per_s = speed_around(r, std::max(*a, *b));
    run.beyond_first_m = std::abs(travel(r, *a) - travel(r, *b));
  }
  const auto* zero = motion.done ? switch_on(motion, r) : nullptr;
  if (zero == nullptr) return run;
  run.stress_free_m = zero->stress_free_skew_m;
  measure_way(run, r, run.stress_free_m->value);
  if (!run.both_seen) return run;
  const double count = std::max(r.count_a_m, r.count_b_m);
  // A latch is good to a count each side, uniform: variance count^2/12 twice.
  run.b_minus_a_m = math::with_sd(run.latch_a_m - run.latch_b_m - run.stress_free_m->value,
                                  std::sqrt(run.stress_free_m->sd * run.stress_free_m->sd + count * count / 6));
  return run;
}

double median(std::vector<double> x) {
  std::sort(x.begin(), x.end());
  const size_t n = x.size();
  return n % 2 == 1 ? x[n / 2] : (x[n / 2 - 1] + x[n / 2]) / 2;
}

}  // namespace

Marks find_marks(const std::vector<Recording>& recordings, const identification::MotionFit& motion) {
  Marks out;
  for (const Recording& r : recordings)
    if (!r.latched_a_m.empty() && !r.latched_b_m.empty() && has_positions(r)) out.runs.push_back(look_at(r, motion));
  std::vector<double> differences, naive;
  for (const SearchRun& run : out.runs) {
    if (run.both_seen) naive.push_back(run.latch_a_m - run.latch_b_m);
    if (run.b_minus_a_m) differences.push_back(run.b_minus_a_m->value);
  }
  if (!naive.empty()) {
    out.naive_low_m = *std::min_element(naive.begin(), naive.end());
    out.naive_high_m = *std::max_element(naive.begin(), naive.end());
  }
  if (differences.empty()) {
    if (!out.runs.empty())
      out.reason = naive.empty()
                       ? "no search saw both marks"
                       : "the skew at which the guides are free is not known: outputs of both sides are missing";
    return out;
  }
  const double middle = median(differences);
  double squares = 0, sum = 0, count = 0, shared = 0;
  for (const SearchRun& run : out.runs) {
    if (!run.b_minus_a_m) continue;
    const double off = run.b_minus_a_m->value - middle;
    if (differences.size() > 2 && std::abs(off) > std::max(4 * run.b_minus_a_m->sd, 20e-6)) {
      out.outliers.push_back(run.name);
      continue;
    }
    sum += run.b_minus_a_m->value;
    squares += off * off;
    count += 1;
    shared = std::max(shared, run.b_minus_a_m->sd);
  }
  if (count == 0) {
    out.reason = "the searches contradict each other";
    return out;
  }
  out.spread_m = count > 1 ? std::sqrt(squares / (count - 1)) : shared;
  // The runs share the friction difference and the stiffness: their common part does not average out.
  out.b_minus_a_free_m = math::with_sd(sum / count, std::hypot(shared, out.spread_m / std::sqrt(count)));
  out.known = true;
  out.reason.clear();
  return out;
}

}  // namespace evenbeam::homing
