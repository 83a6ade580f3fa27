// Row W1: the full virtual gantry (six coordinates, bristle friction with Stribeck, current lag, stops, counts, clip,
// a notch in each coordinate) in closed loop at 10 kHz, machine seconds a second. Beside it in the same run: a
// hand-tight kernel of the same plant and flags, and a numpy loop (bench/simulation_loop.py). Processor time, best of
// seven, of a hundred where the two kernels take turns.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>

#include "bench_hand_kernel.h"
#include "best_time.h"
#include "goal.h"
#include "simulation/batch.h"

using namespace evenbeam;

namespace {

constexpr double period_s = 1e-4;

simulation::Gantry full_gantry(double carriage_y_m) {
  simulation::Gantry g;
  dynamics::Plant& p = g.plant;
  p.span_m = 1.8;
  p.fixed_mass_kg = 170, p.fixed_moment_kg_m = 4, p.fixed_inertia_kg_m2 = 85;
  p.carriage_mass_kg = 48, p.payload_kg = 12, p.carriage_y_m = carriage_y_m, p.carriage_ahead_m = 0.06;
  p.yaw_stiffness_n_m_per_rad = 2.1e6, p.yaw_damping_n_m_s_per_rad = 900;
  p.a = {95, 6.5e7, 6000, 42, 180, 1.02};
  p.b = {102, 5.9e7, 5500, 61, 230, 0.97};
  p.bending_hz = 78, p.bending_damping = 0.015, p.bending_mass_kg = 130, p.bending_end_shape = -0.9;
  p.carriage_stiffness_n_per_m = 4e7, p.carriage_damping_n_s_per_m = 2500;
  p.delay_s = period_s, p.current_lag_s = 2.5e-4;
  for (auto* side : {&g.effects.a, &g.effects.b}) {
    side->stribeck_n = 12, side->count_m = 1e-7, side->peak_force_n = 2500;
    side->stop_high_m = 5, side->stop_low_m = -5, side->stop_stiffness_n_per_m = 1e6;
  }
  return g;
}

machine::Settings loops() {
  machine::Settings s;
  s.period_s = period_s, s.share = 0.48, s.mass_ff_kg = 430, s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 60;
  s.mean = {20, 16000, 0.08, 1500, {{95, 0.1, 0.5}}};
  s.skew = {30, 2500, 0.06, 1200, {{140, 0.1, 0.5}}};
  return s;
}

simulation::ReferenceTrack reference() {
  const trajectory::MoveLimits limits{1, 5, 120};
  std::vector<trajectory::Move> moves;
  for (int i = 0; i < 4; ++i) moves.push_back(trajectory::plan_move(i % 2 ? 0.6 : 0, i % 2 ? -0.6 : 0.6, limits));
  auto t = simulation::complete(simulation::track(moves, 0.1, period_s), period_s);
  return t;
}

constexpr int times = 7, turns = 100;

// Wall time, for threads.
template <class Work>
double best_wall_s(Work work) {
  double best = 1e9;
  for (int run = 0; run < times; ++run) {
    const auto start = std::chrono::steady_clock::now();
    work();
    best = std::min(best, std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count());
  }
  return best;
}

double program_run(const simulation::GantryModel& model, const servo::LoopLaw& law,
                   const simulation::ReferenceTrack& t) {
  auto state = simulation::standing(model, 0, 0, 1);
  servo::LoopState loop;
  for (std::size_t k = 0; k < t.mean_m.size(); ++k) {
    const auto read = simulation::read_feedback(model, state);
    const auto f =
        servo::step(law, loop, {t.mean_m[k], t.mean_m_per_s[k], t.mean_m_per_s2[k], 0, 0, 0}, read.a_m, read.b_m);
    simulation::advance(model, state, {f.a_n, f.b_n});
  }
  return simulation::end_a_m(state);
}

// The numpy loop on the same matrices: writes them, runs the script, reads "seconds for steps".
double numpy_s_per_step(const simulation::GantryModel& model) {
  const auto path = std::filesystem::temp_directory_path() / "evenbeam_simulation_bench.txt";
  {
    std::ofstream file(path);
    const int n = 2 * model.coordinates;
    for (int i = 0; i < n * (n + 6); ++i)
      file << fmt::format("{}\n", model.after.columns[static_cast<std::size_t>(i)]);
  }
  const std::string command = "/usr/bin/python3 " EVENBEAM_BENCH_DIR "/simulation_loop.py " + path.string();
  double result = 0;
  if (std::FILE* pipe = popen(command.c_str(), "r")) {
    if (std::fscanf(pipe, "%lf", &result) != 1) result = 0;
    pclose(pipe);
  }
  std::filesystem::remove(path);
  return result;
}

}  // namespace

int main() {
  const auto model = simulation::prepare(full_gantry(0.3), period_s);
  const auto law = servo::prepare(loops());
  const auto track = reference();
  const double length_s = period_s * double(track.mean_m.size());
  double place = 0, hand_place = 0;
  double program_s = 1e9, hand_s = 1e9;  // in turns, so that both meet the same neighbours
  for (int i = 0; i < turns; ++i) {
    program_s = std::min(program_s, bench::best_s(1, [&] { place = program_run(model, law, track); }));
    hand_s = std::min(hand_s, bench::best_s(1, [&] { hand_place = bench::hand_run(model, law, track); }));
  }
  const double program = length_s / program_s, hand = length_s / hand_s;
  std::vector<simulation::BatchMachine> machines;
  for (int i = 0; i < 32; ++i) machines.push_back({full_gantry(-0.5 + i / 32.0), loops(), 0, 1});
  const double batch_s = 32 * length_s;
  std::vector<simulation::BatchResult> results;
  const double one = batch_s / bench::best_s(times, [&] { results = simulation::run_batch(machines, track, 1); });
  const double four = batch_s / bench::best_s(times, [&] {  // packs of four never use AVX-512
                        for (int i = 0; i < 32; i += 4)
                          simulation::run_batch({machines.begin() + i, machines.begin() + i + 4}, track, 1);
                      });
  const double one_wall = batch_s / best_wall_s([&] { simulation::run_batch(machines, track, 1); });
  const double two =
      batch_s / bench::best_s(times, [&] { simulation::run_batch(machines, track, 2); });  // of both threads together
  const double two_wall = batch_s / best_wall_s([&] { simulation::run_batch(machines, track, 2); });
  const double numpy_step = numpy_s_per_step(model);
  fmt::print("closed loop of the full gantry at 10 kHz, {} substeps a period, machine seconds a second\n",
             model.after.steps);
  fmt::print("  program, one machine     {:8.0f}\n", program);
  fmt::print(
      "  hand-tight kernel        {:8.0f}   program takes {:.2f} times as long (goal 1.2); end places differ by "
      "{:.1e} m\n",
      hand, hand / program, std::abs(place - hand_place));
  fmt::print("  batch of fours, one core {:8.0f}   {:.2f} times one machine (goal 2.6 with AVX2)\n", four,
             four / program);
  fmt::print("  batch, one core          {:8.0f}   {:.2f} times one machine (goal {})\n", one, one / program,
             __builtin_cpu_supports("avx512f") ? "3.5 with AVX-512" : "2.6 with AVX2");
  fmt::print("  batch, two threads       {:8.0f}   {:.2f} times one thread, wall time (goal 1.9)\n", two_wall,
             two_wall / one_wall);
  fmt::print("  two threads' work        {:8.0f}   processor time: on two free cores {:.2f} times one thread\n", two,
             2 * two / one);
  if (numpy_step > 0)
    fmt::print("  numpy loop               {:8.2f}   program is {:.0f} times that (goal 500)\n",
               period_s / numpy_step, program * numpy_step / period_s);
  else
    fmt::print("  numpy loop: not run (python3 with numpy needed)\n");
  const bool wide = __builtin_cpu_supports("avx512f");
  using bench::Goal;
  bench::tell_goal("W1", "closed loop, one machine / hand kernel, time", hand / program, Goal::at_most, 1.2);
  bench::tell_goal("W1", "batch of fours (AVX2) / one machine, speed", four / program, Goal::at_least, 2.6);
  if (wide) bench::tell_goal("W1", "batch (AVX-512) / one machine, speed", one / program, Goal::at_least, 3.5);
  bench::tell_goal("W1", "two threads / one, speed by processor time", 2 * two / one, Goal::at_least, 1.9);
  if (numpy_step > 0)
    bench::tell_goal("W1", "one machine / numpy loop, speed", program * numpy_step / period_s, Goal::at_least, 500);
  else
    bench::tell_unmeasured("W1", "one machine / numpy loop, speed", "python3 with numpy needed");
  return std::abs(place - hand_place) < 1e-9 && results[0].done ? 0 : 1;
}
