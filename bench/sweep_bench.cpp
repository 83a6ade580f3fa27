// Row W4: 2000 plants x 400 lines under one set of gains, what a page that follows a control needs: responses,
// smallest singular values, eigenvalues where a margin is in doubt. References in the same run: a hand kernel for the
// responses, numpy for responses and singular values. Also one forecast of a move of one metre. Processor times, the
// best of some runs; the largest difference to the kernel is printed.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <numbers>
#include <string>
#include <vector>

#include "base/process.h"
#include "best_time.h"
#include "goal.h"
#include "math/random.h"
#include "simulation/linear_loop.h"
#include "sweep_hand_kernel.h"
#include "trajectory/jerk_limited.h"
#include "tuning/move_forecast.h"
#include "tuning/sensitivity.h"
#include "tuning/textbook.h"

using namespace evenbeam;
using bench::best_ms;

namespace {

constexpr size_t kPlants = 2000, kLines = 400;
constexpr double kPeriod_s = 1e-4, kInDoubt = 2;

std::vector<dynamics::Plant> plants() {
  math::Random random(1);
  std::vector<dynamics::Plant> out;
  for (size_t k = 0; k < kPlants; ++k) {
    dynamics::Plant p;
    p.span_m = 1.8, p.fixed_mass_kg = random.uniform(150, 190), p.fixed_moment_kg_m = random.uniform(-5, 5);
    p.fixed_inertia_kg_m2 = 0.5 * p.fixed_mass_kg;
    p.carriage_mass_kg = 48, p.payload_kg = random.uniform(0, 25), p.carriage_y_m = random.uniform(-0.7, 0.7);
    p.yaw_stiffness_n_m_per_rad = random.uniform(1.8e6, 2.4e6), p.yaw_damping_n_m_s_per_rad = 900;
    p.a = {95, random.uniform(5.5e7, 6.5e7), 6000, 42, 180, 1.02};
    p.b = {102, random.uniform(5.5e7, 6.5e7), 5500, 61, 230, 0.97};
    p.delay_s = 2.3e-4, p.current_lag_s = 2.5e-4;
    out.push_back(p);
  }
  return out;
}

bench::HandPlant hand(const dynamics::Plant& p) {
  const double carriage = p.carriage_mass_kg + p.payload_kg, half = p.span_m / 2;
  // Mean and yaw from the ends: mean = (a + b)/2, yaw = (a - b)/span.
  const auto ends = [&](double mean, double cross, double yaw, double* aa, double* ab, double* bb) {
    const double y = yaw / (p.span_m * p.span_m), c = cross / p.span_m;
    *aa = mean / 4 + c + y, *bb = mean / 4 - c + y, *ab = mean / 4 - y;
  };
  bench::HandPlant h;
  ends(p.fixed_mass_kg + carriage, -(p.fixed_moment_kg_m + carriage * p.carriage_y_m),
       p.fixed_inertia_kg_m2 + carriage * (p.carriage_y_m * p.carriage_y_m + p.carriage_ahead_m * p.carriage_ahead_m),
       &h.mass_aa, &h.mass_ab, &h.mass_bb);
  ends(0, 0, p.yaw_stiffness_n_m_per_rad, &h.stiffness_aa, &h.stiffness_ab, &h.stiffness_bb);
  const double a = p.a.viscous_n_s_per_m, b = p.b.viscous_n_s_per_m;
  ends(a + b, half * (a - b), p.yaw_damping_n_m_s_per_rad + half * half * (a + b), &h.damping_aa, &h.damping_ab,
       &h.damping_bb);
  int at = 0;
  for (const dynamics::PlantSide* side : {&p.a, &p.b}) {
    h.motor[at] = side->motor_mass_kg, h.spring[at] = side->drive_stiffness_n_per_m;
    h.damper[at] = side->drive_damping_n_s_per_m, h.scale[at] = side->force_scale;
    (at++ == 0 ? h.stiffness_aa : h.stiffness_bb) += side->drive_stiffness_n_per_m;
    (at == 1 ? h.damping_aa : h.damping_bb) += side->drive_damping_n_s_per_m;
  }
  return h;
}

machine::Settings gains() {
  machine::Settings s;
  s.period_s = kPeriod_s, s.share = 0.5, s.peak_force_a_n = s.peak_force_b_n = 2000;
  s.mean = tuning::symmetrical_optimum(420, 16, 1e-3), s.skew = tuning::symmetrical_optimum(75, 16, 1e-3);
  s.mean.velocity_filter_hz = s.skew.velocity_filter_hz = 600;
  return s;
}

double numpy_ms() {
  const std::string python = std::filesystem::exists("/usr/bin/python3") ? "/usr/bin/python3" : "python3";
  const auto run = base::run_process(python, {std::string(EVENBEAM_BENCH_DIR) + "/sweep_numpy.py"}, 120);
  return run.exit_code == 0 ? std::atof(run.output.c_str()) : 0;
}

void tell_forecast(const dynamics::Plant& plant) {
  identification::Identified id;
  id.plant = plant, id.plant_known = true;
  const auto move = trajectory::plan_move(0, 1, {1.5, 10, 200});
  const tuning::ForecastMove there{.name = "one metre", .reference = simulation::track({move}, 0.5, kPeriod_s)};
  const machine::Settings s = gains();
  const double ms = best_ms(5, [&] { tuning::forecast(there, id, s, {.draws = 0}); });
  // As many runs as a band takes, each with another mass.
  std::vector<dynamics::Plant> drawn(8, plant);
  for (size_t k = 0; k < drawn.size(); ++k) drawn[k].fixed_mass_kg += static_cast<double>(k);
  const double band_ms = best_ms(5, [&] { tuning::peak_skews(there, drawn, std::vector(drawn.size(), s), {}); });
  fmt::print("one forecast, 1 m and rest, {} periods: {:.1f} ms, with its band {:.1f} ms (goal 50)\n",
             there.reference.mean_m.size(), ms, ms + band_ms);
}

}  // namespace

int main() {
  const std::vector<dynamics::Plant> all = plants();
  std::vector<double> w;
  for (size_t i = 0; i < kLines; ++i)
    w.push_back(2 * std::numbers::pi * std::pow(2400, static_cast<double>(i) / (kLines - 1)));
  const auto lines = dynamics::response_lines(w, kPeriod_s, all[0].delay_s, all[0].current_lag_s);

  std::vector<bench::HandPlant> by_hand;
  for (const auto& p : all) by_hand.push_back(hand(p));
  std::vector<double> kernel(8 * kLines);
  const double kernel_ms = best_ms(20, [&] {
    for (const auto& p : by_hand)
      bench::hand_responses(p, w.data(), lines.path_real.data(), lines.path_imag.data(), kLines, kernel.data());
  });
  std::vector<dynamics::SideResponse> g;
  const double ours_ms = best_ms(20, [&] {
    for (const auto& p : all) dynamics::responses(p, lines, g);
  });
  double off = 0;
  for (size_t i = 0; i < kLines; ++i) {
    const std::complex<double> other(kernel[i], kernel[kLines + i]);
    off = std::max(off, std::abs(other - g[i].aa) / std::abs(other));
  }
  fmt::print(
      "W4 responses, {} plants x {} lines: {:.1f} ms, {:.2f} times the hand kernel's {:.1f} ms (goal 1.5), {:.0e} "
      "off\n",
      kPlants, kLines, ours_ms, ours_ms / kernel_ms, kernel_ms, off);

  const machine::Settings s = gains();
  size_t doubtful = 0, unstable = 0;
  const double sweep_ms = best_ms(5, [&] {
    doubtful = unstable = 0;
    tuning::PlantLines one{{}, lines, {}};
    const tuning::LawLines law = tuning::law_lines(lines, s);
    for (const auto& p : all) {
      one.plant = p;
      dynamics::responses(p, lines, one.g);
      if (tuning::peak_on_lines(one, s, law).peak < kInDoubt) continue;
      ++doubtful;
      unstable += !simulation::stability(p, s).stable;
    }
  });
  fmt::print(
      "W4 whole sweep with sensitivities: {:.1f} ms (goal 100); {} in doubt, their eigenvalues in it, {} unstable\n",
      sweep_ms, doubtful, unstable);
  const double eigen_ms = best_ms(1, [&] {
    for (const auto& p : all) unstable += !simulation::stability(p, s).stable;
  });
  fmt::print("W4 eigenvalues of all {} closed loops, discretised: {:.0f} ms\n", kPlants, eigen_ms);
  const double numpy = numpy_ms();
  if (numpy > 0)
    fmt::print("W4 numpy, responses and singular values: {:.0f} ms, {:.0f} times ours (goal 150)\n", numpy,
               numpy / ours_ms);
  else
    fmt::print("numpy was not found: no reference\n");
  using bench::Goal;
  bench::tell_goal("W4", "responses / hand kernel, time", ours_ms / kernel_ms, Goal::at_most, 1.5);
  if (numpy > 0)
    bench::tell_goal("W4", "numpy / responses, time", numpy / ours_ms, Goal::at_least, 150);
  else
    bench::tell_unmeasured("W4", "numpy / responses, time", "python3 with numpy needed");
  bench::tell_goal("W4", "whole sweep / 100 ms", sweep_ms / 100, Goal::at_most, 1);
  tell_forecast(all[0]);
  return 0;
}
