#include "tuning/capture_candidates.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "identification/local_motion.h"
#include "trajectory/jerk_limited.h"

namespace evenbeam::tuning {
namespace {

using identification::Identified;
using machine::Machine;
using recording::Recording;
using recording::RunKind;

// Setting up: a file of its own; the carriage moved by hand; a payload put on. Common practice, no source.
constexpr double kFile_min = 2, kCarriage_min = 2, kPayload_min = 5;
constexpr double kMultisineForce = 0.6;  // of peak, loops and excitation together, so that nothing clips
constexpr double kCreep = 0.8;           // of the creeping speed, so that friction keeps its sign
constexpr double kLouder = 4;            // at most in one go: what was left out may grow faster than the level
constexpr double kLouderFrom = 1.2;      // below it not worth another capture
constexpr double kSpeed_hz = 60;         // seen by the window through which the creep is judged
constexpr const char* kSwitchOn = "planned";

struct Foreseen {
  const Machine& machine;
  const Identified& id;
  const Proposal& proposal;
  const CaptureLimits& limits;
};

double range_of(const std::vector<double>& x) {
  const auto [low, high] = std::minmax_element(x.begin(), x.end());
  return x.empty() ? 0 : *high - *low;
}

double largest(const std::vector<double>& x, double about = 0) {
  double out = 0;
  for (double value : x)
    if (std::isfinite(value)) out = std::max(out, std::abs(value - about));
  return out;
}

double mean_of(const std::vector<double>& x) {
  double sum = 0, count = 0;
  for (double value : x)
    if (std::isfinite(value)) sum += value, ++count;
  return count > 0 ? sum / count : 0;
}

std::vector<double> skew_of(const Recording& r) {
  std::vector<double> out(r.position_a_m.size());
  for (size_t i = 0; i < out.size(); ++i) out[i] = r.position_a_m[i] - r.position_b_m[i];
  return out;
}

double force_part(const Machine& m, const std::vector<double>& a, const std::vector<double>& b) {
  return std::max(m.a.peak_force_n ? largest(a) / *m.a.peak_force_n : 0,
                  m.b.peak_force_n ? largest(b) / *m.b.peak_force_n : 0);
}

void hold_against_limits(ProposedCapture& c, const Machine& machine, const CaptureLimits& limits) {
  if (limits.skew_m && c.skew_m > kSkewUse * *limits.skew_m)
    c.left_out =
        fmt::format("skew up to {:.3g} mm, over half of the {:.3g} mm allowed", 1e3 * c.skew_m, 1e3 * *limits.skew_m);
  else if (c.force_part > kForceUse)
    c.left_out = fmt::format("it would take {:.0f} % of a side's peak force", 100 * c.force_part);
  else if (machine.limits.travel_m && c.stroke_m > *machine.limits.travel_m)
    c.left_out = fmt::format("its way of {:.3g} m is longer than the travel", c.stroke_m);
  else if (machine.limits.speed_m_per_s && c.speed_m_per_s > 1.001 * *machine.limits.speed_m_per_s)
    c.left_out = fmt::format("its {:.3g} m/s are faster than the machine's limit", c.speed_m_per_s);
}

// Run on the fitted machine under the settings proposed; what it shows is what would be recorded.
ProposedCapture run_foreseen(const Foreseen& f, const ForecastMove& move, RunKind kind) {
  const simulation::RunSeries run =
      run_move(move, f.id.plant, {.common = at_place(f.proposal, f.proposal.settings, move.carriage_y_m)}, {});
  Recording r{.name = move.name, .kind = kind, .period_s = run.period_s};
  r.time_s = run.time_s;
  r.position_a_m = run.position_a_m, r.position_b_m = run.position_b_m;
  r.reference_a_m = run.reference_a_m, r.reference_b_m = run.reference_b_m;
  r.force_a_n = run.force_a_n, r.force_b_n = run.force_b_n;
  r.carriage_y_m = move.carriage_y_m, r.payload_kg = move.payload_kg;
  r.switch_on = kSwitchOn;
  ProposedCapture c{.kind = kind, .carriage_y_m = move.carriage_y_m, .payload_kg = move.payload_kg};
  c.duration_s = run.time_s.empty() ? 0 : run.time_s.back();
  c.minutes = kFile_min + c.duration_s / 60;
  c.force_part = force_part(f.machine, run.force_a_n, run.force_b_n);
  c.skew_m = run.peak_true_skew_error_m;
  c.stroke_m = range_of(move.reference.mean_m) + largest(skew_of(r)) / 2;
  c.speed_m_per_s = largest(move.reference.mean_m_per_s);
  c.foreseen.rows = {std::move(r)};
  hold_against_limits(c, f.machine, f.limits);
  return c;
}

// The same move with the carriage at the ends of its range, empty and with full payload.
void add_moves(std::vector<ProposedCapture>& out, const Foreseen& f, const ForecastMove& move) {
  const machine::CarriageRange range = machine::carriage_range(f.machine);
  std::vector<double> payloads{f.machine.payload_min_kg};
  if (f.machine.payload_max_kg && *f.machine.payload_max_kg > payloads.front())
    payloads.push_back(*f.machine.payload_max_kg);
  for (double kg : payloads)
    for (double y : {range.min_y_m, range.max_y_m}) {
      ForecastMove there = move;
      there.name = "planned move", there.carriage_y_m = y, there.payload_kg = kg;
      there.file_time_s.clear();
      ProposedCapture c = run_foreseen(f, there, RunKind::test_move);
      c.minutes += (std::abs(y - f.id.motion.carriage_y_m) > 1e-6 ? kCarriage_min : 0) +
                   (kg > f.machine.payload_min_kg ? kPayload_min : 0);
      out.push_back(std::move(c));
    }
}

void add_jog(std::vector<ProposedCapture>& out, const Foreseen& f) {
  const double top = f.machine.limits.speed_m_per_s.value_or(0.2), period_s = f.proposal.settings.period_s;
  std::vector<trajectory::Move> moves{trajectory::plan_move(0, 0, {1, 1, 1})};
  for (double v : {0.01, 0.05, std::min(0.2, top)}) {
    const double way = std::min(1.2 * v, f.machine.limits.travel_m.value_or(1) / 2);
    for (int i = 0; i < 2; ++i) {
      moves.push_back(trajectory::plan_move(0, way, {v, 10 * v, 400 * v}));
      moves.push_back(trajectory::plan_move(way, -way, {v, 10 * v, 400 * v}));
    }
  }
  ForecastMove jog{.name = "planned jog",
                   .carriage_y_m = f.id.motion.carriage_y_m,
                   .reference = simulation::track(moves, 0.3, period_s)};
  out.push_back(run_foreseen(f, jog, RunKind::slow_jog));
}

// Peaks of the multisines at hand: constant part, and what grows with the level.
struct Loudness {
  double force_constant_part = 0, force_varying_part = 0;   // of peak, worse side
  double skew_m = 0, speed_m_per_s = 0, creep_m_per_s = 0;  // departures; creep: the slowest
  double duration_s = 0, stroke_m = 0;
};

Loudness loudness_of(const std::vector<const Recording*>& captures, const Machine& machine) {
  Loudness out{.creep_m_per_s = std::numeric_limits<double>::infinity()};
  for (const Recording* r : captures) {
    out.duration_s += r->time_s.empty() ? 0 : r->time_s.back() - r->time_s.front();
    for (const auto& [force, peak] :
         {std::pair(&r->force_a_n, machine.a.peak_force_n), std::pair(&r->force_b_n, machine.b.peak_force_n)}) {
      if (!peak) continue;
      const double constant = mean_of(*force), varying = largest(*force, constant);
      if (varying / *peak < out.force_varying_part) continue;
      out.force_varying_part = varying / *peak, out.force_constant_part = std::abs(constant) / *peak;
    }
    const std::vector<double> skew = skew_of(*r);
    out.skew_m = std::max(out.skew_m, largest(skew, mean_of(skew)));
    out.stroke_m = std::max({out.stroke_m, range_of(r->position_a_m), range_of(r->position_b_m)});
    const identification::LocalMotion motion =
        identification::local_motion(*r, {.bandwidth_hz = std::min(kSpeed_hz, 0.1 / r->period_s)});
    for (const auto& speeds : {motion.a[1], motion.b[1]}) {
      const double creep = std::abs(mean_of(speeds));
      out.creep_m_per_s = std::min(out.creep_m_per_s, creep);
      out.speed_m_per_s = std::max(out.speed_m_per_s, largest(speeds, mean_of(speeds)));
    }
  }
  return out;
}

struct Level {
  double most = std::numeric_limits<double>::infinity();  // louder than it was made only up to here
  double safe = std::numeric_limits<double>::infinity();  // never louder than this
  std::string bound_by = "nothing that is stated";
};

Level level_of(const Loudness& l, const CaptureLimits& limits) {
  Level out;
  const auto bound = [&](double allowed, double varying, const char* name, bool safety) {
    if (!(varying > 0)) return;
    const double level = std::max(0.0, allowed / varying);
    if (safety) out.safe = std::min(out.safe, level);
    if (level < out.most) out.most = level, out.bound_by = name;
  };
  bound(kMultisineForce - l.force_constant_part, l.force_varying_part, "force", true);
  if (limits.skew_m) bound(kSkewUse * *limits.skew_m, l.skew_m, "skew", true);
  bound(kCreep * l.creep_m_per_s, l.speed_m_per_s, "the creeping speed, so that friction keeps its sign", false);
  // Nobody has said how much skew the guides take: no louder than it was done.
  if (!limits.skew_m && out.most > 1) out.most = 1, out.bound_by = "the skew allowed, which is unknown";
  return out;
}

void add_multisines(std::vector<ProposedCapture>& out, const Foreseen& f, const std::vector<Recording>& recordings) {
  std::vector<const Recording*> captures;
  for (const Recording& r : recordings) {
    const auto& of = f.id.response_recordings;
    if (std::find(of.begin(), of.end(), r.name) != of.end()) captures.push_back(&r);
  }
  if (!f.id.grey.done || captures.empty()) return;
  const Loudness loud = loudness_of(captures, f.machine);
  const Level level = level_of(loud, f.limits);
  const double as_before = std::min(1.0, level.safe);
  const auto add = [&](double times, double long_as) {
    ProposedCapture c{.kind = RunKind::multisine,
                      .carriage_y_m = f.id.response_carriage_y_m,
                      .payload_kg = captures.front()->payload_kg.value_or(0),
                      .level = times};
    c.duration_s = long_as * loud.duration_s;
    c.minutes = kFile_min * static_cast<double>(captures.size()) + c.duration_s / 60;
    c.force_part = loud.force_constant_part + times * loud.force_varying_part;
    c.skew_m = times * loud.skew_m;
    c.stroke_m = long_as * loud.stroke_m;
    c.speed_m_per_s = loud.creep_m_per_s + times * loud.speed_m_per_s;
    if (times != 1) c.bound_by = level.bound_by;
    c.foreseen.response_gain = long_as * times * times;
    for (int i = 0; i < static_cast<int>(long_as); ++i)
      for (const Recording* r : captures) {
        c.foreseen.rows.push_back(*r);
        c.foreseen.rows.back().switch_on = kSwitchOn;
      }
    hold_against_limits(c, f.machine, f.limits);
    out.push_back(std::move(c));
  };
  if (!(as_before > 0)) return;
  add(as_before, 1);
  add(as_before, 2);
  if (level.most > kLouderFrom) add(std::min(kLouder, level.most), 1);
}

}  // namespace

std::vector<ProposedCapture> capture_candidates(const std::vector<Recording>& recordings, const Machine& machine,
                                                const Identified& id, const Proposal& proposal,
                                                const ForecastMove& move, const CaptureLimits& limits) {
  std::vector<ProposedCapture> out;
  const Foreseen f{machine, id, proposal, limits};
  add_moves(out, f, move);
  add_jog(out, f);
  add_multisines(out, f, recordings);
  return out;
}

}  // namespace evenbeam::tuning
