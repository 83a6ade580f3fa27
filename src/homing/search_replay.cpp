#include "homing/search_replay.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include "homing/stop_replay.h"
#include "simulation/closed_loop.h"

namespace evenbeam::homing {
namespace {

constexpr double kPeriod_s = 1e-3;  // of the exact followers
constexpr size_t kPoints = 1200;    // of a drawn line
constexpr double kShort_m = 15e-6;  // before its stop: more than what it is found within

// Way run from rest at `time`, braking to rest at `run_m` in all.
struct Trapezoid {
  double speed, acceleration, run_m;
  double ramp() const { return std::min(speed * speed / 2 / acceleration, run_m / 2); }
  double top() const { return std::sqrt(2 * acceleration * ramp()); }
  double duration_s() const { return 2 * top() / acceleration + (run_m - 2 * ramp()) / top(); }
  double at(double time_s) const {
    const double t_ramp = top() / acceleration, t_all = duration_s();
    if (time_s >= t_all) return run_m;
    if (time_s < t_ramp) return acceleration * time_s * time_s / 2;
    if (time_s > t_all - t_ramp) return run_m - acceleration * (t_all - time_s) * (t_all - time_s) / 2;
    return ramp() + top() * (time_s - t_ramp);
  }
};

struct Side {
  double start = 0, mark = 0, edge = 0, delay = 0;  // along the search, from the leading side's start
};

struct Player {
  const SearchProblem& p;
  const SearchPlan& plan;
  Side a, b;

  double run_up() const { return p.speed_m_per_s * p.speed_m_per_s / 2 / p.acceleration_m_per_s2; }
  bool edges() const { return p.reference == Reference::switch_and_mark; }
  bool repeats() const { return p.pitch_m && (p.reference == Reference::periodic || edges()); }
  // Way of the command from which a side's marks count.
  double armed(const Side& s) const {
    const Side& by = p.edge_shared ? (plan.way.a_leads ? a : b) : s;
    return edges() ? std::max(0.0, by.edge - by.start) + p.speed_m_per_s * s.delay : run_up();
  }
  // Number of the first mark met, 0 the one wanted.
  int number(const Side& s) const {
    if (!repeats()) return 0;
    return static_cast<int>(std::ceil((s.start + armed(s) - s.mark) / *p.pitch_m - 1e-12));
  }
  double place(const Side& s) const { return s.mark + number(s) * p.pitch_m.value_or(0); }
};

Side side_of(double start, double mark, double edge, double delay, int direction) {
  return {direction * start, direction * mark, direction * edge, delay};
}

// Length of the move that ends beyond the leading side's mark; the whole run where that mark is not met.
double run_of(const Player& player) {
  const Side& lead = player.plan.way.a_leads ? player.a : player.b;
  const double way = player.place(lead) - lead.start;
  const bool fixed = player.p.reference == Reference::distance_coded;
  return way < 0 || fixed ? player.plan.way.longest_run_m : way + player.plan.way.overtravel_m;
}

struct Track {
  double period_s = kPeriod_s;
  std::vector<double> a, b;  // places along the search
};

// The commands of both sides, each from its own start.
std::pair<Trapezoid, Trapezoid> commands(const Player& player) {
  const SearchProblem& p = player.p;
  const bool each = p.controller == Controller::each_its_own || p.reference == Reference::hard_stop;
  const auto run = [&](const Side& s) {
    const double way = player.place(s) - s.start;
    const double beyond = p.reference == Reference::hard_stop ? 0 : player.run_up() + p.speed_m_per_s * s.delay;
    return Trapezoid{p.speed_m_per_s, p.acceleration_m_per_s2,
                     each ? (way < 0 ? player.plan.way.longest_run_m : way + beyond) : run_of(player)};
  };
  return {run(player.a), run(player.b)};
}

Track exact(const Player& player) {
  Track track;
  const auto [a, b] = commands(player);
  const double last = std::max(a.duration_s(), b.duration_s()) + 0.1;
  for (double t = 0; t <= last; t += track.period_s) {
    track.a.push_back(player.a.start + a.at(t));
    track.b.push_back(player.b.start + b.at(t));
  }
  return track;
}

// Both ends of the virtual gantry. Under one command the skew is held where it was switched on; sides that search
// for themselves are the mean and the difference of two commands.
Track simulated(const Player& player, const VirtualMachine& machine) {
  const int d = player.plan.way.direction;
  const auto [a, b] = commands(player);
  simulation::RunDescription run;
  run.gantry.plant = machine.plant;
  run.gantry.plant.stress_free_skew_m = 0;
  run.loops.common = machine.loops;
  run.start_mean_m = d * (player.a.start + player.b.start) / 2;
  run.start_skew_m = d * (player.a.start - player.b.start);
  const double period = machine.loops.period_s, last = std::max(a.duration_s(), b.duration_s()) + 0.1;
  for (double t = 0; t <= last; t += period) {
    run.reference.mean_m.push_back(d * (a.at(t) + b.at(t)) / 2);
    run.reference.skew_m.push_back(d * (a.at(t) - b.at(t)));
  }
  run.record_every = std::max(1, static_cast<int>(kPeriod_s / period + 0.5));
  const simulation::RunSeries series = simulation::run(run);
  Track track{.period_s = series.period_s};
  for (size_t i = 0; i < series.true_a_m.size(); ++i) {
    track.a.push_back(d * series.true_a_m[i]);
    track.b.push_back(d * series.true_b_m[i]);
  }
  return track;
}

std::optional<double> seen_at(const Track& track, const std::vector<double>& places, const Side& s, double mark) {
  if (mark < s.start) return std::nullopt;
  for (size_t i = 1; i < places.size(); ++i)
    if (places[i - 1] < mark && places[i] >= mark) return track.period_s * static_cast<double>(i) + s.delay;
  return std::nullopt;
}

// Of a side found by force short of its stop; empty where both stand at theirs.
std::string stands_short(const Replay& r) {
  std::string text;
  for (const auto& [side, seen, at_m] :
       {std::tuple("A", r.a_seen_s, r.a_seen_at_m), {"B", r.b_seen_s, r.b_seen_at_m}})
    if (!seen || at_m < -kShort_m)
      text += fmt::format("{}{} {}", text.empty() ? "" : "; ", side,
                          seen ? fmt::format("stands {:.2f} mm before its stop and takes that for it", -1e3 * at_m)
                               : "does not come to its stop");
  return text;
}

std::string outcome_of(const Replay& r, const SearchProblem& p, double largest_off_m) {
  if (!r.a_seen_s && !r.b_seen_s) return "neither mark is seen";
  if (!r.a_seen_s || !r.b_seen_s) return fmt::format("{}'s mark is not seen", r.a_seen_s ? "B" : "A");
  if (r.a_mark != r.b_mark) {
    const int pitches = std::abs(r.a_mark - r.b_mark);
    return fmt::format("marks of different number are taken: {} pitch{} slipped", pitches, pitches > 1 ? "es" : "");
  }
  if (p.reference == Reference::switch_and_mark && r.a_mark != 0) return "both sides take a wrong mark";
  if (p.allowable_skew_m && largest_off_m > *p.allowable_skew_m) return "the skew leaves what the mountings take";
  return "both marks are seen";
}

// A start beyond a stop is no start; it is drawn as any other mark that lies behind.
bool runs_to_stops(const Player& player) {
  return player.p.reference == Reference::hard_stop && player.a.start < player.a.mark &&
         player.b.start < player.b.mark;
}

Track found_by_force(const Player& player, const FailingStart& start, const std::optional<VirtualMachine>& machine,
                     Replay& out) {
  const auto take = [&](const StopRun& run) {
    out.a_seen_s.reset(), out.b_seen_s.reset();
    if (run.a) out.a_seen_s = run.a->at_s, out.a_seen_at_m = run.a->at_m - player.a.mark;
    if (run.b) out.b_seen_s = run.b->at_s, out.b_seen_at_m = run.b->at_m - player.b.mark;
  };
  StopRun run = out.on_virtual_gantry ? run_to_stops(player.p, player.plan, start, *machine)
                                      : run_to_stops_without_inertia(player.p, player.plan, start);
  take(run);
  const bool too_weak = !player.plan.promised && player.plan.way.least_force_n < 0;
  if (out.on_virtual_gantry && too_weak && stands_short(out).empty()) {
    out.on_virtual_gantry = false, out.momentum_helped = true;
    run = run_to_stops_without_inertia(player.p, player.plan, start);
    take(run);
  }
  return {.period_s = run.period_s, .a = run.a_m, .b = run.b_m};
}

Track marks_passed(const Player& player, const std::optional<VirtualMachine>& machine, Replay& out) {
  Track track = out.on_virtual_gantry ? simulated(player, *machine) : exact(player);
  out.a_mark = player.number(player.a), out.b_mark = player.number(player.b);
  out.a_seen_s = seen_at(track, track.a, player.a, player.place(player.a));
  out.b_seen_s = seen_at(track, track.b, player.b, player.place(player.b));
  out.a_seen_at_m = out.a_mark * player.p.pitch_m.value_or(0);
  out.b_seen_at_m = out.b_mark * player.p.pitch_m.value_or(0);
  return track;
}

}  // namespace

Replay replay_search(const SearchProblem& p, const SearchPlan& plan, const FailingStart& start,
                     const std::optional<VirtualMachine>& machine) {
  const int d = plan.way.direction;
  Player player{p, plan, {}, {}};
  player.a = side_of(start.mean_m + start.skew_m / 2, start.mark_a_m, start.edge_a_m, start.delay_a_s, d);
  player.b = side_of(start.mean_m - start.skew_m / 2, start.mark_b_m, start.edge_b_m, start.delay_b_s, d);
  const bool wall = p.reference == Reference::hard_stop, to_stops = runs_to_stops(player);
  Replay out;
  out.on_virtual_gantry = machine && machine->loops.period_s > 0 && (to_stops || !wall);
  const Track track = to_stops ? found_by_force(player, start, machine, out) : marks_passed(player, machine, out);
  const size_t every = std::max<size_t>(1, track.a.size() / kPoints);
  double largest = 0;
  for (size_t i = 0; i < track.a.size(); i += every) {
    out.time_s.push_back(track.period_s * static_cast<double>(i));
    out.a_from_mark_m.push_back(track.a[i] - player.a.mark);
    out.b_from_mark_m.push_back(track.b[i] - player.b.mark);
    out.skew_m.push_back(d * (track.a[i] - track.b[i]) - p.free_skew_m);
    largest = std::max(largest, std::abs(out.skew_m.back()));
  }
  const std::string amiss = to_stops ? stands_short(out) : "";
  out.outcome = amiss.empty() ? outcome_of(out, p, largest) : amiss;
  return out;
}

}  // namespace evenbeam::homing
