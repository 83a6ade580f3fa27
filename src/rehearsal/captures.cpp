
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "rehearsal/capture_runs.h"
#include "simulation/plan_excitation.h"
#include "trajectory/excitation.h"

namespace evenbeam::rehearsal {
namespace {

using recording::Excited;
using recording::RunKind;
using simulation::RunDescription;
using simulation::RunSeries;
using trajectory::MoveLimits;

constexpr const char* names[takes] = {"standstill", "push",      "multisine", "jog",      "search",
                                      "move",       "skew-step", "fault",     "one-side", "enabling"};

void run_open(const CaptureInput& in, Take take, SimulatedCapture& c, const std::vector<double>& a_n,
              const std::vector<double>& b_n, std::uint64_t number) {
  c.series = run_broken(in, take,
                        open_loop(gantry_of(in), period_of(in), a_n, b_n, main_rack_m(in), in.seed * 1000 + number));
  RunSeries& s = c.series;
  const double zero_a = s.position_a_m.front(), zero_b = s.position_b_m.front();
  for (double& x : s.position_a_m) x -= zero_a;
  for (double& x : s.position_b_m) x -= zero_b;
  std::fill(s.reference_a_m.begin(), s.reference_a_m.end(), 0.0);
  std::fill(s.reference_b_m.begin(), s.reference_b_m.end(), 0.0);
}

SimulatedCapture standstill(const CaptureInput& in) {
  SimulatedCapture c = begin(in, "00-standstill.csv", RunKind::standstill, "loops open, nothing moves");
  const std::vector<double> none(periods(in, 2), 0.0);
  run_open(in, Take::standstill, c, none, none, 1);
  return c;
}

// The level that `limits` or rehearsal.toml gives; without one, half as much again as both frictions.
SimulatedCapture push(const CaptureInput& in) {
  SimulatedCapture c = begin(in, "01-push.csv", RunKind::nudge,
                             "loops open, bridge connected; short pushes A+, A-, B+, B-, both+, both-");
  const dynamics::Plant& p = in.machine.gantry.plant;
  const machine::Settings& l = in.machine.loops;
  const double force = std::min(in.amounts.push_n.value_or(1.5 * (p.a.coulomb_n + p.b.coulomb_n)),
                                std::min(l.peak_force_a_n, l.peak_force_b_n));
  const auto a = trajectory::pulses({force, -force, 0, 0, force, -force}, in.amounts.push_s, 0.6, l.period_s);
  const auto b = trajectory::pulses({0, 0, force, -force, force, -force}, in.amounts.push_s, 0.6, l.period_s);
  run_open(in, Take::push, c, a, b, 2);
  return c;
}

SimulatedCapture multisine(const CaptureInput& in, bool on_a) {
  constexpr double speed = 0.03, ramp_s = 0.2;
  const int repeats = in.multisine_repeats;
  SimulatedCapture c = begin(in, on_a ? "02-multisine-a.csv" : "03-multisine-b.csv", RunKind::multisine,
                             "loops closed and soft, bridge creeping; periodic lines added to one side's output");
  c.excited = on_a ? Excited::a : Excited::b, c.excitation_period_s = 2;
  const machine::Settings& l = in.machine.loops;
  const double peak = on_a ? l.peak_force_a_n : l.peak_force_b_n;
  const auto signal = trajectory::multisine({.level_n = 1,
                                             .low_hz = 1,
                                             .high_hz = std::min(600.0, 0.2 / l.period_s),
                                             .repeat_s = c.excitation_period_s,
                                             .draws = in.multisine_draws,
                                             .seed = in.seed * 1000 + (on_a ? 3 : 4)},
                                            l.period_s);
  std::vector<double> shape;
  for (int i = 0; i < repeats; ++i) shape.insert(shape.end(), signal.one_repeat_n.begin(), signal.one_repeat_n.end());
  std::vector<double> none(shape.size(), 0.0);
  // At most 30 % of peak, half of the skew allowed, 80 % of the creeping speed, so that friction keeps its sign.
  const auto level =
      simulation::plan_excitation(in.machine.gantry.plant, l, l.period_s, on_a ? shape : none, on_a ? none : shape,
                                  {.force_a_n = 0.6 * peak,
                                   .force_b_n = 0.6 * peak,
                                   .skew_m = in.allowable_skew_m,
                                   .speed_m_per_s = 1.6 * speed});
  for (double& x : shape) x *= level.level;
  RunDescription d = closed(in, c, l, "soft", on_a ? 3 : 4);
  d.reference.mean_m = creep(in, speed, ramp_s, c.excitation_period_s * repeats);
  shape.insert(shape.begin(), d.reference.mean_m.size() - shape.size(), 0.0);
  (on_a ? d.added_a_n : d.added_b_n) = std::move(shape);
  c.series = run_broken(in, Take::multisine, d);
  return c;
}

SimulatedCapture jog(const CaptureInput& in) {
  SimulatedCapture c =
      begin(in, "04-jog.csv", RunKind::slow_jog, "loops closed and soft; 10, 50 and 100 mm/s, each way");
  std::vector<trajectory::Move> moves{trajectory::plan_move(0, 0, {1, 1, 1})};
  for (const double v : {0.01, 0.05, 0.1})
    for (const double way : {1.2 * v, -1.2 * v})
      moves.push_back(trajectory::plan_move(way > 0 ? 0 : 1.2 * v, way, {v, 20 * v, 800 * v}));
  if (in.jog_way_m > 0)
    for (const double way : {in.jog_way_m, -in.jog_way_m})
      moves.push_back(
          trajectory::plan_move(way > 0 ? 0 : in.jog_way_m, way,
                                {in.jog_speed_m_per_s, 10 * in.jog_speed_m_per_s, 400 * in.jog_speed_m_per_s}));
  RunDescription d = closed(in, c, in.machine.loops, "soft", 5);
  d.reference = simulation::track(moves, 0.3, period_of(in));
  c.series = run_broken(in, Take::jog, d);
  return c;
}

// After referencing: the scales are zero where the guides are free of moment.
SimulatedCapture test_move(const CaptureInput& in, const char* file, double y_m, double payload_kg, int number) {
  SimulatedCapture c = begin(in, file, RunKind::test_move, "there and back twice");
  c.carriage_y_m = y_m, c.payload_kg = payload_kg, c.switch_on = "referenced";
  RunDescription d = in.proposed ? closed(in, c, *in.proposed, "proposed", static_cast<std::uint64_t>(number))
                                 : closed(in, c, in.machine.loops, "soft", static_cast<std::uint64_t>(number));
  d.start_skew_m = in.machine.gantry.plant.stress_free_skew_m + broken_in(in, Take::move).referenced_skew_m;
  c.zero_a_m = d.start_skew_m / 2, c.zero_b_m = -d.start_skew_m / 2;
  const MoveLimits limits{in.move.speed_m_per_s, in.move.acceleration_m_per_s2, in.move.jerk_m_per_s3};
  std::vector<trajectory::Move> moves{trajectory::plan_move(0, 0, limits)};
  for (int i = 0; i < 2; ++i) {
    moves.push_back(trajectory::plan_move(0, in.move.distance_m, limits));
    moves.push_back(trajectory::plan_move(in.move.distance_m, -in.move.distance_m, limits));
  }
  d.reference = simulation::track(moves, 0.35, d.loops.common.period_s);
  c.series = run_broken(in, Take::move, d);
  return c;
}

SimulatedCapture skew_step(const CaptureInput& in) {
  SimulatedCapture c = begin(in, "07-skew-step.csv", RunKind::skew_step,
                             "at rest, loops closed; the skew reference steps up, down and back");
  const double step = 0.2 * in.allowable_skew_m.value_or(2.5e-4);
  RunDescription d = closed(in, c, in.machine.loops, "soft", 7);
  for (const double level : {0.0, 1.0, 0.0, -1.0, 0.0})
    d.reference.skew_m.insert(d.reference.skew_m.end(), periods(in, 0.6), level * step);
  d.reference.mean_m.assign(d.reference.skew_m.size(), 0.0);
  // A step has no rate: the loop sees the place alone.
  d.reference.skew_m_per_s = d.reference.skew_m_per_s2 = d.reference.mean_m;
  c.series = run_broken(in, Take::skew_step, d);
  return c;
}

SimulatedCapture fault(const CaptureInput& in) {
  SimulatedCapture c = begin(in, "08-fault.csv", RunKind::fault, "");
  const double speed = in.amounts.travel_m_per_s, at_s = 0.5, off_s = at_s + in.amounts.reaction_s;
  c.what = fmt::format("at {} s the output of B is lost, at {} s both are off", at_s, off_s);
  RunDescription d = closed(in, c, in.machine.loops, "soft", 8);
  d.reference.mean_m = creep(in, speed, 0.2, off_s + 0.5);
  simulation::FaultEvent lost{.at_s = at_s, .side = simulation::SideName::b};
  lost.broken.output_factor = 0;
  d.faults = {lost, {.at_s = off_s, .all_off = true}};
  c.series = run_broken(in, Take::fault, d);
  for (std::size_t k = 0; k < c.series.time_s.size(); ++k)  // the recorder sees what goes out, not what was asked
    if (c.series.time_s[k] >= at_s - period_of(in) / 2) c.series.force_b_n[k] = 0;
  return c;
}

// Held off stress-free by a fifth of what is allowed; off at 1 s, on at 2 s. The reference then is the actual
// position, as a controller takes it over: it is known only once the off time has been run.
SimulatedCapture enabling(const CaptureInput& in) {
  constexpr double off_s = 1, on_s = 2, end_s = 2.6;
  SimulatedCapture c = begin(in, "09-servo-off.csv", RunKind::enabling,
                             "at rest, loops closed and soft; at 1 s both are disabled, at 2 s enabled again");
  RunDescription d = closed(in, c, in.machine.loops, "soft", 9);
  const double hold = 0.2 * in.allowable_skew_m.value_or(2.5e-4), period = period_of(in);
  const std::size_t on = periods(in, on_s), ramp = periods(in, 0.5);
  for (std::size_t k = 0; k < periods(in, end_s); ++k)
    d.reference.skew_m.push_back(hold * std::min(1.0, static_cast<double>(k) / static_cast<double>(ramp)));
  d.reference.mean_m.assign(d.reference.skew_m.size(), 0.0);
  d.breaks.off_s = off_s;
  const RunSeries let_go = run_broken(in, Take::enabling, d);
  const std::size_t seen = std::min(on, let_go.time_s.size()) - 1;
  const double a = let_go.position_a_m[seen], b = let_go.position_b_m[seen];
  for (std::size_t k = on; k < d.reference.skew_m.size(); ++k)
    d.reference.skew_m[k] = a - b, d.reference.mean_m[k] = (a + b) / 2;
  d.reference.mean_m_per_s = d.reference.mean_m_per_s2 = d.reference.skew_m_per_s = d.reference.skew_m_per_s2 =
      std::vector<double>(d.reference.mean_m.size(), 0.0);
  d.breaks.on_s = on_s;
  c.series = run_broken(in, Take::enabling, d);
  for (std::size_t k = 0; k < c.series.time_s.size(); ++k)  // drives that are off give nothing
    if (c.series.time_s[k] > off_s - period / 2 && c.series.time_s[k] < on_s - period / 2)
      c.series.force_a_n[k] = c.series.force_b_n[k] = 0;
  return c;
}

}  // namespace

std::string to_text(Take take) { return names[static_cast<int>(take)]; }

std::optional<Take> take_of(const std::string& text) {
  for (int i = 0; i < takes; ++i)
    if (text == names[i]) return static_cast<Take>(i);
  return std::nullopt;
}

std::vector<SimulatedCapture> make_captures(const CaptureInput& input, Take take,
                                            const std::function<bool(const std::string&)>& progress) {
  using In = const CaptureInput&;
  std::vector<std::function<SimulatedCapture(In)>> list;
  const machine::CarriageRange& range = input.machine.carriage;
  const double here = input.machine.gantry.plant.carriage_y_m, payload = input.machine.gantry.plant.payload_kg;
  switch (take) {
    case Take::standstill:
      list = {standstill};
      break;
    case Take::push:
      list = {push};
      break;
    case Take::multisine:
      list = {[](In in) { return multisine(in, true); }, [](In in) { return multisine(in, false); }};
      break;
    case Take::jog:
      list = {jog};
      break;
    case Take::search:
      for (int i = 1; i <= 5; ++i) list.emplace_back([i](In in) { return search_capture(in, i); });
      break;
    case Take::move:
      list = {[=](In in) { return test_move(in, "06-move.csv", here, payload, 61); },
              [=](In in) { return test_move(in, "06-move-carriage-minus.csv", range.min_y_m, payload, 62); },
              [=](In in) {
                return test_move(in, "06-move-carriage-plus-loaded.csv", range.max_y_m,
                                 in.payload_max_kg.value_or(payload), 63);
              }};
      break;
    case Take::skew_step:
      list = {skew_step};
      break;
    case Take::fault:
      list = {fault};
      break;
    case Take::one_side:
      list = {[](In in) { return drive_alone_capture(in, false); },
              [](In in) { return drive_alone_capture(in, true); }};
      break;
    case Take::enabling:
      list = {enabling};
      break;
  }
  // Places in the order of a commissioning, for what drifts from one capture to the next.
  constexpr std::array<int, takes> first = {2, 3, 4, 6, 7, 12, 15, 16, 0, 17};
  const double between_s = broken(gantry_of(input), input.defects, {}).between_captures_s;
  std::vector<SimulatedCapture> out;
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (progress && !progress(to_text(take))) break;
    CaptureInput in = input;
    in.clock_s = between_s * static_cast<double>(first[static_cast<std::size_t>(take)] + static_cast<int>(i));
    out.push_back(list[i](in));
  }
  return out;
}

}  // namespace evenbeam::rehearsal
