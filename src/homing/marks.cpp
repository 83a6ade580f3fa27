#include "homing/marks.h"

#include <algorithm>
#include <cmath>

#include "homing/marks_oddities.h"
#include "identification/motion_rows.h"
#include "math/student.h"

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

// Held where the references say, else where it was switched on.
double hold_error(const Recording& r, double until_s) {
  double stray = 0;
  for (size_t i = 0; i < r.time_s.size() && r.time_s[i] <= until_s; ++i) {
    double off = r.position_a_m[i] - r.position_b_m[i];
    if (has_references(r)) off -= r.reference_a_m[i] - r.reference_b_m[i];
    if (std::isfinite(off)) stray = std::max(stray, std::abs(off));
  }
  return stray;
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

// Part of both sides' Coulomb friction that no law holds at the speed of a search (Stribeck's remainder, ripple) and
// that every run shares: standard uncertainty of (r_A - r_B)/2. Measured with checks/coverage (marks_coverage).
constexpr double kFrictionForm = 5e-4;

double first_finite(const std::vector<double>& x) {
  for (const double v : x)
    if (std::isfinite(v)) return v;
  return 0;
}

double left_after(const Recording& r, double later_s) {
  double at = 0, end = 0;
  for (size_t i = 0; i < r.time_s.size(); ++i) {
    const double x = (r.position_a_m[i] + r.position_b_m[i]) / 2;
    if (!std::isfinite(x)) continue;
    if (r.time_s[i] <= later_s) at = x;
    end = x;
  }
  return std::abs(end - at);
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
    run.hold_error_m = hold_error(r, std::max(run.seen_a_s, run.seen_b_s));
    run.left_after_m = left_after(r, std::max(run.seen_a_s, run.seen_b_s));
  }
  run.start_a_m = first_finite(r.position_a_m), run.start_b_m = first_finite(r.position_b_m);
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

// Bare differences of the runs that have nothing else wrong; a slipped pitch is taken out against the runs that did
// not slip.
std::vector<double> bare_differences(const Marks& marks, double pitch_m) {
  std::vector<double> out, slipped;
  for (const SearchRun& run : marks.runs) {
    if (!run.both_seen) continue;
    const bool slip = std::any_of(marks.oddities.begin(), marks.oddities.end(), [&](const Oddity& odd) {
      return odd.run == run.name && odd.kind == OddKind::slipped_pitch;
    });
    if (run.left_out && !slip) continue;
    (slip ? slipped : out).push_back(run.latch_a_m - run.latch_b_m);
  }
  const double usual = out.empty() ? 0 : out.front();
  for (const double d : slipped) out.push_back(d - pitch_m * std::round((d - usual) / pitch_m));
  return out;
}

// Every run says: b - a is its bare difference less a skew within what the mountings take.
void bound(Marks& out, const std::vector<double>& bare, double allowable_m) {
  const auto [low, high] = std::minmax_element(bare.begin(), bare.end());
  if (*high - allowable_m <= *low + allowable_m) out.b_minus_a_bounds_m = {*high - allowable_m, *low + allowable_m};
}

// Standard uncertainty of the mean of the stress-free skews x_k/K over the runs that count, from the fit's own
// covariance: what they share stays, and a wrong stiffness cancels as far as the runs began on both sides of free.
double shared_sd(const Marks& marks, const std::vector<Recording>& recordings, const identification::MotionFit& fit) {
  const double stiffness = fit.x[identification::kStiffness], n = marks.counted;
  Eigen::VectorXd g = Eigen::VectorXd::Zero(fit.x.size());
  for (const SearchRun& run : marks.runs) {
    if (!run.b_minus_a_m || run.left_out) continue;
    const auto r =
        std::find_if(recordings.begin(), recordings.end(), [&](const auto& k) { return k.name == run.name; });
    const std::string name = identification::switch_on_of(*r);
    for (size_t k = 0; k < fit.switch_ons.size(); ++k) {
      if (fit.switch_ons[k].name != name) continue;
      const Eigen::Index j = identification::kFixedCount + static_cast<Eigen::Index>(k);
      g[j] += 1 / (n * stiffness);
      g[identification::kStiffness] -= fit.x[j] / (n * stiffness * stiffness);
    }
  }
  return std::sqrt(std::max(0.0, g.dot(fit.covariance * g)));
}

// Mean of the runs that count; scatter between them with n - 1 degrees of freedom, and what they share with none.
void estimate(Marks& out, const std::vector<Recording>& recordings, const identification::MotionFit& motion,
              double friction_form_m) {
  double sum = 0, least_variance = 0;
  for (const SearchRun& run : out.runs) {
    if (!run.b_minus_a_m || run.left_out) continue;
    sum += run.b_minus_a_m->value;
    least_variance = std::max(least_variance, std::pow(run.b_minus_a_m->sd, 2) - std::pow(run.stress_free_m->sd, 2));
    ++out.counted;
  }
  if (out.counted == 0) {
    out.reason = "the searches contradict each other";
    return;
  }
  const double n = out.counted, mean = sum / n;
  double squares = 0;
  for (const SearchRun& run : out.runs)
    if (run.b_minus_a_m && !run.left_out) squares += std::pow(run.b_minus_a_m->value - mean, 2);
  const double own = out.counted > 1 ? squares / (n - 1) : 0;
  out.spread_m = std::sqrt(own);
  const double shared = shared_sd(out, recordings, motion);
  const double common = shared * shared + friction_form_m * friction_form_m;
  // One search alone has no scatter: the counts stand in for it.
  const double scatter = std::max(own, least_variance) / n;
  const double variance = common + scatter;
  const double degrees = out.counted > 1 ? (n - 1) * std::pow(variance / scatter, 2) : 1e9;  // [GUM, eq. G.2b]
  out.b_minus_a_free_m = math::with_sd(mean, std::sqrt(variance), 1, math::coverage_factor(0.95, degrees));
  out.known = true;
  out.reason.clear();
}

}  // namespace

Marks find_marks(const std::vector<Recording>& recordings, const identification::MotionFit& motion,
                 const machine::Machine& machine, std::optional<double> allowable_skew_m) {
  Marks out;
  for (const Recording& r : recordings)
    if (!r.latched_a_m.empty() && !r.latched_b_m.empty() && has_positions(r)) out.runs.push_back(look_at(r, motion));
  if (out.runs.empty()) return out;
  const double pitch = machine.a.mark_pitch_m.value_or(machine.b.mark_pitch_m.value_or(0));
  out.oddities =
      find_oddities(out.runs, pitch, machine.homing.flag_width_m.value_or(0), allowable_skew_m.value_or(0));
  const std::vector<double> bare = bare_differences(out, pitch);
  if (bare.empty()) {
    out.reason = "no search saw both marks";
    return out;
  }
  out.naive_low_m = *std::min_element(bare.begin(), bare.end());
  out.naive_high_m = *std::max_element(bare.begin(), bare.end());
  if (std::none_of(out.runs.begin(), out.runs.end(), [](const SearchRun& r) { return r.b_minus_a_m.has_value(); })) {
    out.reason = "the skew at which the guides are free is not known: outputs of both sides are missing";
    if (allowable_skew_m) bound(out, bare, *allowable_skew_m);
    return out;
  }
  const double span = machine.span_m, stiffness = motion.yaw_stiffness_n_m_per_rad.value;
  const double friction = std::abs(motion.coulomb_a_n.value) + std::abs(motion.coulomb_b_n.value);
  estimate(out, recordings, motion, stiffness > 0 ? kFrictionForm * friction * span * span / stiffness : 0);
  return out;
}

}  // namespace evenbeam::homing
