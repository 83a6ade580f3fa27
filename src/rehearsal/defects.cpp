#include "rehearsal/defects.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <numbers>
#include <utility>

#include "base/check.h"
#include "base/input_error.h"

namespace evenbeam::rehearsal {
namespace {

using simulation::RunDescription;

const Quantity& quantity_of(const Change& change) {
  const std::string where = change.where == "side_a" || change.where == "side_b" ? "side" : change.where;
  const auto all = quantities();
  const auto found = std::find_if(all.begin(), all.end(),
                                  [&](const Quantity& q) { return q.where == where && q.key == change.key; });
  base::check(found != all.end(), change.where + "." + change.key + " is a hook of the virtual gantry");
  return *found;
}

void put(Target& target, const Defects& defects) {
  for (const Change& change : defects.changes)
    quantity_of(change).put(target, change.where == "side_b", change.value);
}

void drift(Target& t, const RunPlace& place) {
  t.gantry.plant.stress_free_skew_m += t.stress_free_drift_m_per_s * place.clock_s;
  for (auto* side : {&t.gantry.effects.a, &t.gantry.effects.b})
    side->sampled_late_s += side->sampled_late_growth * place.clock_s;
}

void check_brakes(const Target& t) {
  const auto& e = t.gantry.effects;
  const bool used =
      t.breaks.brakes_open_s || t.breaks.brakes_close_s || t.a.brake_stuck_closed || t.b.brake_stuck_closed;
  if (!used || (e.a.brake_n > 0 && e.b.brake_n > 0)) return;
  throw base::InputError({.file = "defects",
                          .found = "brakes that are commanded or stuck, without their force",
                          .expected = "brake_force under [side_a] and [side_b]",
                          .next = "State both; a brake that holds nothing has \"1 N\"."});
}

// This side's own command: late by whole periods, scaled.
std::vector<double> changed_command(const std::vector<double>& x, const SideCapture& c, double period_s) {
  const auto late = static_cast<std::size_t>(std::llround(c.reference_late_s / period_s));
  std::vector<double> out(x.size());
  for (std::size_t k = 0; k < x.size(); ++k)
    out[k] = x.front() + (1 + c.reference_scale) * (x[k < late ? 0 : k - late] - x.front());
  return out;
}

void change_references(RunDescription& run, const Target& t) {
  const auto plain = [](const SideCapture& c) { return c.reference_late_s == 0 && c.reference_scale == 0; };
  const bool sides_alike = plain(t.capture_a) && plain(t.capture_b);
  if (run.loops_open || run.reference.mean_m.empty() || (sides_alike && t.skew_reference_m == 0)) return;
  const double period = run.loops.common.period_s;
  simulation::ReferenceTrack& r = run.reference;
  if (r.skew_m.empty()) r.skew_m.assign(r.mean_m.size(), 0);
  if (!sides_alike) {
    std::vector<double> a(r.mean_m.size()), b(r.mean_m.size());
    for (std::size_t k = 0; k < a.size(); ++k)
      a[k] = r.mean_m[k] + r.skew_m[k] / 2, b[k] = r.mean_m[k] - r.skew_m[k] / 2;
    a = changed_command(a, t.capture_a, period), b = changed_command(b, t.capture_b, period);
    for (std::size_t k = 0; k < a.size(); ++k) r.mean_m[k] = (a[k] + b[k]) / 2, r.skew_m[k] = a[k] - b[k];
    r.mean_m_per_s.clear(), r.mean_m_per_s2.clear();
  }
  constexpr double ramp_s = 0.2;  // a mismatch grows as the sides are closed, it does not jump
  for (std::size_t k = 0; k < r.skew_m.size(); ++k)
    r.skew_m[k] += t.skew_reference_m * std::min(1.0, static_cast<double>(k) * period / ramp_s);
  r.skew_m_per_s.clear(), r.skew_m_per_s2.clear();
}

void change_loops(RunDescription& run, const Target& t) {
  if (t.structure && !run.loops_open) {
    run.loops = servo::independent_from(run.loops.common);
    run.loops.structure = *t.structure;
  }
  run.loops.common.mean.velocity_gain_n_s_per_m *= t.mean_gain_factor;
  run.loops.side_a.velocity_gain_n_s_per_m *= t.mean_gain_factor;
  run.loops.side_b.velocity_gain_n_s_per_m *= t.mean_gain_factor;
  run.loops.common.skew.velocity_gain_n_s_per_m *= t.skew_gain_factor;
  run.loops.common.share = std::clamp(run.loops.common.share + t.share_added, 0.0, 1.0);
}

// A carriage that is not held: starts at rest where it stands and swings to `carriage_swing_m` from there and back.
void swing_carriage(RunDescription& run, const Target& t) {
  if (t.carriage_swing_m == 0) return;
  const double w = 2 * std::numbers::pi * t.carriage_swing_hz, half = t.carriage_swing_m / 2;
  run.carriage.clear();
  for (std::size_t k = 0; k < run.reference.mean_m.size(); ++k) {
    const double angle = w * static_cast<double>(k) * run.loops.common.period_s;
    run.carriage.push_back({.y_m = t.gantry.plant.carriage_y_m + half * (1 - std::cos(angle)),
                            .y_m_per_s = half * w * std::sin(angle),
                            .y_m_per_s2 = half * w * w * std::cos(angle)});
  }
}

void add_events(RunDescription& run, const Target& t, double at_s, bool with_gantry) {
  if (with_gantry) run.faults.push_back({.at_s = at_s, .broken = {}, .gantry = t.gantry});
  run.faults.push_back({.at_s = at_s, .side = simulation::SideName::a, .broken = t.a, .gantry = {}});
  run.faults.push_back({.at_s = at_s, .side = simulation::SideName::b, .broken = t.b, .gantry = {}});
}

// What the run does by itself (off, on, brakes) stays, unless a defect says otherwise.
simulation::LoopBreaks with_own_events(simulation::LoopBreaks broken, const simulation::LoopBreaks& own) {
  if (!broken.off_s) broken.off_s = own.off_s;
  if (!broken.on_s) broken.on_s = own.on_s;
  if (!broken.brakes_open_s) broken.brakes_open_s = own.brakes_open_s;
  if (!broken.brakes_close_s) broken.brakes_close_s = own.brakes_close_s;
  return broken;
}

// The run's own faults (a dead drive, both off) come on top of what is broken.
void add_own_faults(RunDescription& run, const Target& t, const std::vector<simulation::FaultEvent>& own) {
  for (simulation::FaultEvent f : own) {
    if (!f.all_off && !f.gantry) {
      const double output = f.broken.output_factor;
      for (simulation::FaultEvent& other : run.faults)
        if (!other.gantry && other.side == f.side && other.at_s > f.at_s) other.broken.output_factor *= output;
      f.broken = f.side == simulation::SideName::a ? t.a : t.b;
      f.broken.output_factor *= output;
      if (output == 0) f.broken.output_added_n = 0;
    }
    run.faults.push_back(std::move(f));
  }
}

}  // namespace

std::string unit_of(const Change& change) { return std::string(quantity_of(change).unit); }

bool holds_in(const Defects& d, const RunPlace& place) {
  return d.runs.empty() || std::find(d.runs.begin(), d.runs.end(), place.run) != d.runs.end();
}

Target broken(const simulation::Gantry& healthy, const std::vector<Defects>& all, const RunPlace& place) {
  Target t{.gantry = healthy};
  for (const Defects& d : all)
    if (holds_in(d, place) && !d.from_s) put(t, d);
  drift(t, place);
  check_brakes(t);
  return t;
}

RunDescription with_defects(RunDescription run, const std::vector<Defects>& all, const RunPlace& place) {
  if (std::none_of(all.begin(), all.end(), [&](const Defects& d) { return holds_in(d, place); })) return run;
  const std::vector<simulation::FaultEvent> own = std::move(run.faults);
  run.faults.clear();
  Target t = broken(run.gantry, all, place);
  run.gantry = t.gantry;
  add_events(run, t, 0, false);
  std::vector<Defects> later;
  std::copy_if(all.begin(), all.end(), std::back_inserter(later),
               [&](const Defects& d) { return holds_in(d, place) && d.from_s; });
  std::stable_sort(later.begin(), later.end(), [](const auto& p, const auto& q) { return *p.from_s < *q.from_s; });
  for (const Defects& d : later) {
    put(t, d);
    check_brakes(t);
    add_events(run, t, *d.from_s, true);
  }
  add_own_faults(run, t, own);
  run.breaks = with_own_events(t.breaks, run.breaks);
  swing_carriage(run, t);
  change_loops(run, t);
  change_references(run, t);
  return run;
}

}  // namespace evenbeam::rehearsal
