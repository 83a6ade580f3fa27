#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "rehearsal/consequence.h"
#include "trajectory/travel.h"

namespace evenbeam::rehearsal {
namespace {

using simulation::FaultEvent;
using simulation::RunDescription;
using simulation::RunSeries;
using simulation::SideName;
using trajectory::MoveLimits;

constexpr double rest_s = 0.1, watched_s = 0.8;

// With whatever is broken on the machine.
RunSeries run_on(const VirtualMachine& m, const RunDescription& d) {
  return simulation::run(with_defects(d, m.broken, {.run = "rehearse"}));
}

size_t periods(double time_s, double period_s) { return static_cast<size_t>(std::llround(time_s / period_s)); }

double push_force_n(const VirtualMachine& m, const Amounts& a) {
  return a.push_n.value_or(std::min(m.loops.peak_force_a_n, m.loops.peak_force_b_n));
}

// From rest over `distance` at `speed`; gentle ends.
std::vector<double> travel(double distance_m, double speed_m_per_s, double period_s) {
  const MoveLimits limits{speed_m_per_s, 20 * speed_m_per_s, 800 * speed_m_per_s};
  std::vector<double> out(periods(rest_s, period_s), 0.0);
  const auto move = trajectory::plan_move(0, distance_m, limits);
  for (double t = 0; t < move.duration_s + watched_s; t += period_s)
    out.push_back(trajectory::at(move, t).position_m);
  return out;
}

// References of each side make mean and skew of the track; rates by difference unless the reference jumps.
simulation::ReferenceTrack track_of(const std::vector<double>& a, const std::vector<double>& b, bool jumps) {
  simulation::ReferenceTrack track;
  for (size_t k = 0; k < a.size(); ++k) {
    track.mean_m.push_back((a[k] + b[k]) / 2);
    track.skew_m.push_back(a[k] - b[k]);
  }
  if (jumps) {
    const std::vector<double> still(a.size(), 0.0);
    track.mean_m_per_s = track.mean_m_per_s2 = track.skew_m_per_s = track.skew_m_per_s2 = still;
  }
  return track;
}

RunDescription closed(const VirtualMachine& m, bool tied) {
  RunDescription d;
  d.gantry = m.gantry;
  d.loops = tied ? servo::StructureSettings{servo::Structure::mean_skew, m.loops, {}, {}}
                 : servo::independent_from(m.loops);
  if (!tied) d.loops.common.mass_ff_kg = 0;  // a side alone is not told of the pair's acceleration
  d.start_skew_m = m.gantry.plant.stress_free_skew_m;
  return d;
}

void references(RunDescription& d, bool a_first, const std::vector<double>& moves, const std::vector<double>& stands,
                bool jumps = false) {
  d.reference = a_first ? track_of(moves, stands, jumps) : track_of(stands, moves, jumps);
}

FaultEvent dead(double at_s, bool side_a) {
  FaultEvent event{.at_s = at_s, .side = side_a ? SideName::a : SideName::b};
  event.broken.output_factor = 0;
  return event;
}

RunSeries push_run(const VirtualMachine& m, const Amounts& a, bool on_a) {
  const double period = m.loops.period_s;
  std::vector<double> push(periods(rest_s + a.push_s + watched_s, period), 0.0);
  const size_t from = periods(rest_s, period), to = from + periods(a.push_s, period);
  std::fill(push.begin() + static_cast<long>(from), push.begin() + static_cast<long>(to), push_force_n(m, a));
  const std::vector<double> none(push.size(), 0.0);
  return run_on(
      m, open_loop(m.gantry, period, on_a ? push : none, on_a ? none : push, m.gantry.plant.stress_free_skew_m, 1));
}

RunSeries push_against_held(const VirtualMachine& m, const Amounts& a, bool on_a) {
  RunDescription d = closed(m, false);
  const size_t n = periods(rest_s + a.push_s + watched_s, m.loops.period_s);
  d.reference.mean_m.assign(n, 0.0);
  (on_a ? d.loops.side_a : d.loops.side_b).velocity_gain_n_s_per_m = 0;  // that side's loop is open
  std::vector<double>& added = on_a ? d.added_a_n : d.added_b_n;
  added.assign(n, 0.0);
  const size_t from = periods(rest_s, m.loops.period_s), to = from + periods(a.push_s, m.loops.period_s);
  std::fill(added.begin() + static_cast<long>(from), added.begin() + static_cast<long>(to), push_force_n(m, a));
  return run_on(m, d);
}

// One side follows the way; the other stands, or has no force from the start.
RunSeries one_moves(const VirtualMachine& m, double way_m, double speed_m_per_s, bool a_moves, bool other_dead) {
  RunDescription d = closed(m, false);
  const std::vector<double> moves = travel(way_m, speed_m_per_s, m.loops.period_s);
  const std::vector<double> stands(moves.size(), 0.0);
  references(d, a_moves, moves, stands);
  if (other_dead) d.faults.push_back(dead(0, !a_moves));
  return run_on(m, d);
}

RunSeries jump_run(const VirtualMachine& m, const Amounts& a, bool on_a) {
  RunDescription d = closed(m, false);
  std::vector<double> jumps(periods(rest_s + watched_s, m.loops.period_s), a.jog_m);
  std::fill_n(jumps.begin(), static_cast<long>(periods(rest_s, m.loops.period_s)), 0.0);
  references(d, on_a, jumps, std::vector<double>(jumps.size(), 0.0), true);
  return run_on(m, d);
}

// Both travel; at one instant one side stops at once in its controller, the other goes on until the reaction.
RunSeries stop_run(const VirtualMachine& m, const Amounts& a, bool a_stops) {
  const double period = m.loops.period_s, speed = a.travel_m_per_s;
  const double ramp_s = 0.2, cruise_s = 0.2;
  std::vector<double> goes, stops;
  double place = 0, stopped = 0;
  for (double t = 0; t < ramp_s + cruise_s + a.reaction_s + watched_s; t += period) {
    const double after = t - ramp_s - cruise_s;
    const double v = speed * std::min(1.0, t / ramp_s);
    const auto braked = [&](double late_s) { return v * std::clamp(1 - (after - late_s) / 0.05, 0.0, 1.0); };
    place += period * braked(a.reaction_s), stopped += period * braked(0);
    goes.push_back(place), stops.push_back(stopped);
  }
  RunDescription d = closed(m, false);
  references(d, !a_stops, goes, stops);
  return run_on(m, d);
}

// Tied and in motion; one drive gives no force from an instant on, the loops go on until the reaction takes both.
RunSeries dead_in_motion(const VirtualMachine& m, const Amounts& a, bool a_lives) {
  RunDescription d = closed(m, true);
  const double period = m.loops.period_s, ramp_s = 0.2, fault_s = 0.4;
  double place = 0;
  for (double t = 0; t < fault_s + a.reaction_s + watched_s; t += period) {
    d.reference.mean_m.push_back(place);
    place += period * a.travel_m_per_s * std::min(1.0, t / ramp_s);
  }
  d.faults = {dead(fault_s, !a_lives), {.at_s = fault_s + a.reaction_s, .all_off = true}};
  return run_on(m, d);
}

}  // namespace

std::string what_is_run(const VirtualMachine& m, const Amounts& a, OneSided kind) {
  switch (kind) {
    case OneSided::nothing:
      return "no drive is powered or nothing is driven";
    case OneSided::push:
      return fmt::format("loops open, {:.4g} N for {:.3g} ms on one side", push_force_n(m, a), 1e3 * a.push_s);
    case OneSided::push_against_held:
      return fmt::format("{:.4g} N for {:.3g} ms on one side, the other held by its loop", push_force_n(m, a),
                         1e3 * a.push_s);
    case OneSided::search_dead:
      return fmt::format("one side searches {:.3g} mm at {:.3g} mm/s, the other gives no force", 1e3 * a.search_m,
                         1e3 * a.search_m_per_s);
    case OneSided::search_held:
      return fmt::format("one side searches {:.3g} mm at {:.3g} mm/s, the other stands in its loop", 1e3 * a.search_m,
                         1e3 * a.search_m_per_s);
    case OneSided::jog_held:
      return fmt::format("one side jogs {:.3g} mm at {:.3g} mm/s, the other stands in its loop", 1e3 * a.jog_m,
                         1e3 * a.jog_m_per_s);
    case OneSided::jump:
      return fmt::format("loops close with one side's reference {:.3g} mm away", 1e3 * a.jog_m);
    case OneSided::stop_one:
      return fmt::format("at {:.3g} mm/s one side stops, the other goes on for {:.3g} ms", 1e3 * a.travel_m_per_s,
                         1e3 * a.reaction_s);
    case OneSided::dead_in_motion:
      return fmt::format("at {:.3g} mm/s one side loses its force, both are off {:.3g} ms later",
                         1e3 * a.travel_m_per_s, 1e3 * a.reaction_s);
  }
  return {};
}

RunSeries one_sided_run(const VirtualMachine& m, const Amounts& a, OneSided kind, bool on_a) {
  switch (kind) {
    case OneSided::nothing:
      return {};
    case OneSided::push:
      return push_run(m, a, on_a);
    case OneSided::push_against_held:
      return push_against_held(m, a, on_a);
    case OneSided::search_dead:
      return one_moves(m, a.search_m, a.search_m_per_s, on_a, true);
    case OneSided::search_held:
      return one_moves(m, a.search_m, a.search_m_per_s, on_a, false);
    case OneSided::jog_held:
      return one_moves(m, a.jog_m, a.jog_m_per_s, on_a, false);
    case OneSided::jump:
      return jump_run(m, a, on_a);
    case OneSided::stop_one:
      return stop_run(m, a, on_a);
    case OneSided::dead_in_motion:
      return dead_in_motion(m, a, on_a);
  }
  return {};
}

RunDescription open_loop(const simulation::Gantry& gantry, double period_s, std::vector<double> force_a_n,
                         std::vector<double> force_b_n, double start_skew_m, std::uint64_t seed) {
  RunDescription d;
  d.gantry = gantry;
  d.loops.common.period_s = period_s, d.loops_open = true;
  d.reference.mean_m.assign(force_a_n.size(), 0.0), d.reference.skew_m.assign(force_a_n.size(), start_skew_m);
  d.added_a_n = std::move(force_a_n), d.added_b_n = std::move(force_b_n);
  d.start_skew_m = start_skew_m, d.counts_from_start = false;
  d.seed = seed;
  return d;
}

namespace {
trajectory::Move planned(const TiedMove& move) {
  return trajectory::plan_move(0, move.distance_m,
                               {move.speed_m_per_s, move.acceleration_m_per_s2, move.jerk_m_per_s3});
}
}  // namespace

double tied_move_end_s(const TiedMove& move) { return planned(move).duration_s; }

RunSeries tied_move(const VirtualMachine& m, const machine::Settings& loops, const TiedMove& move,
                    double carriage_y_m) {
  VirtualMachine there = m;
  there.gantry.plant.carriage_y_m = carriage_y_m;
  there.loops = loops;
  RunDescription d = closed(there, true);
  d.reference = simulation::track({planned(move)}, 0.4, loops.period_s);
  return run_on(m, d);
}

}  // namespace evenbeam::rehearsal
