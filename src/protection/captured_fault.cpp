#include "protection/captured_fault.h"

#include <algorithm>
#include <cmath>

#include "simulation/closed_loop.h"

namespace evenbeam::protection {
namespace {

using recording::Recording;

constexpr double kGone_s = 0.01;     // an output is gone when it stays at nothing that long
constexpr double kSmooth_s = 4e-3;   // of the reference
constexpr double kStands_m = 20e-6;  // way over kWatch_s below which the bridge stands
constexpr double kWatch_s = 0.1;

// First sample from which the output stays at nothing to the end, or at least kGone_s; nullopt where it never does.
std::optional<size_t> gone(const std::vector<double>& force, double peak, double period_s) {
  const auto least = static_cast<size_t>(kGone_s / period_s);
  size_t run = 0;
  bool worked = false;
  for (size_t i = 0; i < force.size(); ++i) {
    const bool nothing = std::abs(force[i]) < 1e-5 * peak;
    run = nothing ? run + 1 : 0;
    if (!nothing) worked = true;
    if (worked && run >= least) return i + 1 - run;
  }
  return std::nullopt;
}

double mean_at(const Recording& r, size_t i) { return (r.position_a_m[i] + r.position_b_m[i]) / 2; }
double skew_at(const Recording& r, size_t i) { return r.position_a_m[i] - r.position_b_m[i]; }

simulation::ReferenceTrack reference_of(const Recording& r, double period_s) {
  simulation::ReferenceTrack out;
  const auto n = static_cast<size_t>((r.time_s.back() - r.time_s.front()) / period_s) + 1;
  std::vector<double> x(n);
  for (size_t i = 0; i < n; ++i) {
    const double place = static_cast<double>(i) * period_s / r.period_s;
    const size_t k = std::min(static_cast<size_t>(place), r.time_s.size() - 1),
                 next = std::min(k + 1, r.time_s.size() - 1);
    const auto mean = [&](size_t j) { return (r.reference_a_m[j] + r.reference_b_m[j]) / 2; };
    x[i] = mean(k) + (place - static_cast<double>(k)) * (mean(next) - mean(k));
  }
  const auto half = static_cast<size_t>(kSmooth_s / period_s / 2);
  std::vector<double> sums(n + 1, 0.0);
  for (int pass = 0; pass < 2; ++pass) {
    for (size_t i = 0; i < n; ++i) sums[i + 1] = sums[i] + x[i];
    for (size_t i = 0; i < n; ++i) {
      const size_t reach = std::min({half, i, n - 1 - i});
      x[i] = (sums[i + reach + 1] - sums[i - reach]) / static_cast<double>(2 * reach + 1);
    }
  }
  out.mean_m = x;
  out.mean_m_per_s.assign(n, 0.0);
  out.mean_m_per_s2.assign(n, 0.0);
  for (size_t i = 1; i + 1 < n; ++i) out.mean_m_per_s[i] = (x[i + 1] - x[i - 1]) / (2 * period_s);
  for (size_t i = 1; i + 1 < n; ++i)
    out.mean_m_per_s2[i] = (out.mean_m_per_s[i + 1] - out.mean_m_per_s[i - 1]) / (2 * period_s);
  return out;
}

void predict(const Recording& r, const machine::Machine& machine, const dynamics::Plant& plant, CapturedFault& out) {
  const double period_s = machine.servo_period_s.value_or(0);
  if (!r.loops || !has_references(r) || !(period_s > 0)) return;
  machine::Settings loops = *r.loops;
  loops.period_s = period_s;
  if (!(loops.peak_force_a_n > 0)) loops.peak_force_a_n = machine.a.peak_force_n.value_or(1e9);
  if (!(loops.peak_force_b_n > 0)) loops.peak_force_b_n = machine.b.peak_force_n.value_or(1e9);
  simulation::RunDescription d;
  d.gantry.plant = plant;
  d.gantry.plant.carriage_y_m = r.carriage_y_m.value_or(machine.carriage_y_m.value_or(0));
  d.gantry.plant.payload_kg = r.payload_kg.value_or(0);
  d.gantry.effects.a.count_m = r.count_a_m;
  d.gantry.effects.b.count_m = r.count_b_m;
  d.loops.common = loops;
  d.reference = reference_of(r, period_s);
  d.counts_from_start = false;  // the capture's own scale zeros
  d.start_mean_m = mean_at(r, 0);
  d.start_skew_m = skew_at(r, 0);
  const double reference_skew = r.reference_a_m[0] - r.reference_b_m[0];
  d.reference.skew_m.assign(d.reference.mean_m.size(), reference_skew);
  d.reference.skew_m_per_s.assign(d.reference.mean_m.size(), 0.0);
  d.reference.skew_m_per_s2 = d.reference.skew_m_per_s;
  const double start = r.time_s.front();
  simulation::Broken dead;
  dead.output_factor = 0;
  const auto first = out.first_is_a ? simulation::SideName::a : simulation::SideName::b;
  d.faults.push_back({.at_s = out.fault_s - start, .side = first, .broken = dead});
  if (out.cross_trip_s)
    d.faults.push_back({.at_s = out.other_s - start, .side = first, .broken = dead, .all_off = true});
  const simulation::RunSeries run = simulation::run(d);
  double peak = 0;
  for (size_t i = 0; i < run.time_s.size(); ++i) {
    const double t = run.time_s[i] + start;
    if (t < out.fault_s - 0.1 || t > out.end_s) continue;
    const double skew = run.position_a_m[i] - run.position_b_m[i];
    out.predicted_time_s.push_back(t);
    out.predicted_skew_m.push_back(skew);
    if (t >= out.fault_s && std::abs(skew - plant.stress_free_skew_m) > std::abs(peak))
      peak = skew - plant.stress_free_skew_m, out.predicted_at_s = t;
  }
  out.predicted_peak_m = peak;
}

}  // namespace

CapturedFault captured_fault(const Recording& r, const machine::Machine& machine, const dynamics::Plant* plant,
                             double skew_trip_m) {
  CapturedFault out{.recording = r.name};
  if (!has_positions(r) || !has_forces(r) || r.time_s.size() < 10) {
    out.why_not = "positions and outputs of both sides are needed";
    return out;
  }
  const auto a = gone(r.force_a_n, machine.a.peak_force_n.value_or(1000), r.period_s);
  const auto b = gone(r.force_b_n, machine.b.peak_force_n.value_or(1000), r.period_s);
  if (!a && !b) {
    out.why_not = "no output goes to nothing";
    return out;
  }
  out.found = true;
  out.first_is_a = a && (!b || *a <= *b);
  const size_t first = out.first_is_a ? *a : *b, last = a && b ? std::max(*a, *b) : first;
  out.fault_s = r.time_s[first];
  out.other_s = r.time_s[last];
  if (a && b) out.cross_trip_s = out.other_s - out.fault_s;
  const auto watch = static_cast<size_t>(kWatch_s / r.period_s);
  if (first >= watch / 10 && watch >= 10)
    out.speed_m_per_s =
        (mean_at(r, first) - mean_at(r, first - watch / 10)) / (r.time_s[first] - r.time_s[first - watch / 10]);
  size_t end = r.time_s.size() - 1;
  for (size_t i = last; i + watch < r.time_s.size(); ++i)
    if (std::abs(mean_at(r, i + watch) - mean_at(r, i)) < kStands_m) {
      end = i, out.stood = true;
      break;
    }
  out.end_s = r.time_s[end];
  out.stop_way_m = std::abs(mean_at(r, end) - mean_at(r, first));
  const double free = plant != nullptr ? plant->stress_free_skew_m : skew_at(r, first);
  for (size_t i = first; i <= end; ++i) {
    const double skew = skew_at(r, i) - free;
    if (std::abs(skew) > std::abs(out.peak_skew_m)) out.peak_skew_m = skew, out.peak_at_s = r.time_s[i];
    const double read = has_references(r) ? skew_at(r, i) - (r.reference_a_m[i] - r.reference_b_m[i]) : skew;
    if (!out.seen_s && std::abs(read) > skew_trip_m) out.seen_s = r.time_s[i];
  }
  if (plant != nullptr) {
    out.peak_moment_n_m = plant->yaw_stiffness_n_m_per_rad * out.peak_skew_m / plant->span_m;
    predict(r, machine, *plant, out);
  }
  return out;
}

}  // namespace evenbeam::protection
