#include "acceptance/move_measures.h"

#include <algorithm>
#include <cmath>

#include "acceptance/force_spread.h"
#include "base/check.h"

namespace evenbeam::acceptance {

namespace {

constexpr double at_limit = 0.995;      // of the peak force: counted as saturated
constexpr double still_watching = 0.1;  // last part of a rest in which an error must be inside to count as settled

struct Sums {
  double square = 0;
  PeakAndRms out;
  void add(double value, std::size_t at) {
    if (!std::isfinite(value)) return;
    ++out.samples;
    square += value * value;
    if (std::abs(value) > out.peak) {
      out.peak = std::abs(value);
      out.at = at;
    }
  }
  PeakAndRms done() {
    if (out.samples > 0) out.rms = std::sqrt(square / double(out.samples));
    return out;
  }
};

std::optional<SideForce> side_force(const std::vector<double>& force, const machine::Side& side,
                                    const std::vector<Stroke>& strokes) {
  if (force.empty()) return std::nullopt;
  const PeakAndRms all = peak_and_rms(force, 0, force.size());
  SideForce out{.rms_n = all.rms, .peak_n = all.peak};
  if (!side.peak_force_n) return out;
  out.rms = all.rms / *side.peak_force_n;
  out.peak = all.peak / *side.peak_force_n;
  if (const auto half = rms_half_width(force, strokes)) out.rms_half = *half * *out.rms;
  std::size_t full = 0;
  for (const double f : force) full += std::abs(f) >= at_limit * *side.peak_force_n;
  out.saturated = all.samples > 0 ? double(full) / double(all.samples) : 0;
  return out;
}

// The largest of one kind over all stops; nullopt where there is none or one did not settle.
std::optional<double> worst_of(const std::vector<Settling>& all, std::optional<double> Settling::*member) {
  std::optional<double> worst;
  for (const Settling& one : all) {
    if (!(one.*member)) return std::nullopt;
    worst = std::max(worst.value_or(0), *(one.*member));
  }
  return worst;
}

void measure_settling(const recording::Recording& rec, double window_m, MoveMeasures& out) {
  for (std::size_t k = 0; k < out.phases.strokes.size(); ++k) {
    const Stroke& s = out.phases.strokes[k];
    if (!s.stop_seen || s.rest_to <= s.to + 2) continue;
    Settling one{.stroke = k, .stop_s = rec.time_s[s.to], .watched_s = double(s.rest_to - s.to) * rec.period_s};
    one.mean_s = settle_time_s(out.errors.mean_m, s.to, s.rest_to, window_m, rec.period_s);
    one.skew_s = settle_time_s(out.errors.skew_m, s.to, s.rest_to, window_m, rec.period_s);
    one.mean_left_m = std::abs(out.errors.mean_m[s.rest_to - 1]);
    one.skew_left_m = std::abs(out.errors.skew_m[s.rest_to - 1]);
    if (!one.mean_s || !one.skew_s) out.settle_at_least_s = std::max(out.settle_at_least_s, one.watched_s);
    out.settlings.push_back(one);
  }
  out.settle_mean_s = worst_of(out.settlings, &Settling::mean_s);
  out.settle_skew_s = worst_of(out.settlings, &Settling::skew_s);
  if (out.settle_mean_s && out.settle_skew_s) out.settle_s = std::max(*out.settle_mean_s, *out.settle_skew_s);
}

// Standing fight over the second half of each rest, and of the rest before the first stroke.
void measure_fight(const recording::Recording& rec, MoveMeasures& out) {
  if (!recording::has_forces(rec)) return;
  const auto look = [&](std::size_t from, std::size_t to) {
    double sum = 0;
    std::size_t n = 0;
    for (std::size_t i = from + (to - from) / 2; i < to; ++i) {
      const double d = (rec.force_a_n[i] - rec.force_b_n[i]) / 2;
      if (std::isfinite(d)) sum += d, ++n;
    }
    if (n < 10) return;
    const double fight = sum / double(n);
    if (out.standing_fight_n && std::abs(fight) <= std::abs(*out.standing_fight_n)) return;
    out.standing_fight_n = fight;
    out.fight_from = from + (to - from) / 2;
    out.fight_to = to;
  };
  if (out.phases.strokes.empty()) return look(0, rec.time_s.size());
  look(0, out.phases.strokes.front().from);
  for (const Stroke& s : out.phases.strokes) look(s.to, s.rest_to);
}

}  // namespace

Errors errors_of(const recording::Recording& rec) {
  base::check(recording::has_positions(rec) && recording::has_references(rec),
              "errors need positions and references");
  Errors out;
  const std::size_t n = rec.position_a_m.size();
  for (std::vector<double>* column : {&out.a_m, &out.b_m, &out.mean_m, &out.skew_m}) column->resize(n);
  for (std::size_t i = 0; i < n; ++i) {
    out.a_m[i] = rec.position_a_m[i] - rec.reference_a_m[i];
    out.b_m[i] = rec.position_b_m[i] - rec.reference_b_m[i];
    out.mean_m[i] = (out.a_m[i] + out.b_m[i]) / 2;
    out.skew_m[i] = out.a_m[i] - out.b_m[i];
  }
  return out;
}

PeakAndRms peak_and_rms(const std::vector<double>& x, std::size_t from, std::size_t to) {
  Sums sums;
  for (std::size_t i = from; i < to; ++i) sums.add(x[i], i);
  return sums.done();
}

PeakAndRms peak_and_rms(const std::vector<double>& x, const std::vector<Phase>& phases, Phase phase) {
  Sums sums;
  for (std::size_t i = 0; i < x.size(); ++i)
    if (phases[i] == phase) sums.add(x[i], i);
  return sums.done();
}

std::optional<double> correlation(const std::vector<double>& x, const std::vector<double>& y) {
  double n = 0, mx = 0, my = 0, xx = 0, yy = 0, xy = 0;  // running means keep the digits
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!std::isfinite(x[i]) || !std::isfinite(y[i])) continue;
    n += 1;
    const double dx = x[i] - mx, dy = y[i] - my;
    mx += dx / n;
    my += dy / n;
    xx += dx * (x[i] - mx);
    yy += dy * (y[i] - my);
    xy += dx * (y[i] - my);
  }
  if (!(xx > 0) || !(yy > 0)) return std::nullopt;
  return std::clamp(xy / std::sqrt(xx * yy), -1.0, 1.0);
}

std::optional<double> settle_time_s(const std::vector<double>& x, std::size_t from, std::size_t to, double window,
                                    double period_s) {
  std::size_t inside = to;  // first sample of the last run inside; a missing sample is not inside
  while (inside > from && std::abs(x[inside - 1]) <= window) --inside;
  const double needed = still_watching * double(to - from);
  if (double(to - inside) < needed) return std::nullopt;
  return double(inside - from) * period_s;
}

MoveMeasures measure(const recording::Recording& rec, const machine::Machine& machine, double settle_window_m) {
  MoveMeasures out;
  out.phases = find_phases(rec);
  out.errors = errors_of(rec);
  const std::size_t n = rec.time_s.size();
  out.skew = peak_and_rms(out.errors.skew_m, 0, n);
  out.mean = peak_and_rms(out.errors.mean_m, 0, n);
  out.error_a = peak_and_rms(out.errors.a_m, 0, n);
  out.error_b = peak_and_rms(out.errors.b_m, 0, n);
  for (const Phase phase : {Phase::rest, Phase::acceleration, Phase::cruise, Phase::deceleration})
    out.skew_by_phase[std::size_t(phase)] = peak_and_rms(out.errors.skew_m, out.phases.of_sample, phase);
  out.peak_doubt_m = (rec.count_a_m + rec.count_b_m) / 2;
  out.rms_doubt_m = std::sqrt((rec.count_a_m * rec.count_a_m + rec.count_b_m * rec.count_b_m) / 12);
  out.side_correlation = correlation(out.errors.a_m, out.errors.b_m);
  measure_settling(rec, settle_window_m, out);
  if (recording::has_forces(rec)) {
    out.force_a = side_force(rec.force_a_n, machine.a, out.phases.strokes);
    out.force_b = side_force(rec.force_b_n, machine.b, out.phases.strokes);
  }
  measure_fight(rec, out);
  return out;
}

}  // namespace evenbeam::acceptance
