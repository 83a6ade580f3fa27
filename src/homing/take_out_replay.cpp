#include "homing/take_out_replay.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "simulation/closed_loop.h"

namespace evenbeam::homing {
namespace {

constexpr double kRest_s = 0.3;     // before the ramp, not shown; and after it at least
constexpr double kLongest_s = 8;    // after it at most
constexpr double kPeriod_s = 2e-3;  // of what is kept

// The integral of the skew loop unloads what the guides pull, K_th/L^2 a metre, with this time constant.
double unloading_s(const VirtualMachine& machine) {
  const machine::CoordinateLoop& loop = machine.loops.skew;
  const double gain = loop.velocity_gain_n_s_per_m * loop.position_gain_per_s, span = machine.plant.span_m;
  return gain > 0 ? machine.plant.yaw_stiffness_n_m_per_rad / span / span * loop.velocity_integral_s / gain : 0;
}

// First time from which on the skew stays within a fiftieth of the change of where it goes.
double there_after_s(const TakeOutInput& in, const TakeOutRun& run, double period_s) {
  const double close = std::max(0.02 * std::abs(in.to_skew_m - in.from_skew_m), 2e-6);
  size_t last_off = 0;
  for (size_t i = 0; i < run.skew_m.size(); ++i)
    if (std::abs(run.skew_m[i] - in.to_skew_m) > close) last_off = i + 1;
  return last_off < run.skew_m.size() ? period_s * static_cast<double>(last_off)
                                      : std::numeric_limits<double>::quiet_NaN();
}

}  // namespace

TakeOutRun play_take_out(const TakeOutInput& in, const TakeOut& plan, const VirtualMachine& machine) {
  simulation::RunDescription run;
  run.gantry.plant = machine.plant;
  run.gantry.plant.stress_free_skew_m = 0;
  run.loops.common = machine.loops;
  run.start_skew_m = in.from_skew_m;
  const double period = machine.loops.period_s, change = in.to_skew_m - in.from_skew_m;
  const double after_s = std::clamp(5 * unloading_s(machine), kRest_s, kLongest_s);
  const dynamics::Plant& plant = machine.plant;
  // The search has held the skew it began with: its integral carries the guides' pull already.
  const double held_n = plant.yaw_stiffness_n_m_per_rad * in.from_skew_m / plant.span_m / plant.span_m;
  for (double t = 0; t < kRest_s + plan.time_s + after_s; t += period) {
    const double part = plan.time_s > 0 ? std::clamp((t - kRest_s) / plan.time_s, 0.0, 1.0) : 1;
    run.reference.mean_m.push_back(0);
    run.reference.skew_m.push_back(part * change);
    run.added_a_n.push_back(held_n / plant.a.force_scale), run.added_b_n.push_back(-held_n / plant.b.force_scale);
  }
  run.record_every = std::max(1, static_cast<int>(kPeriod_s / period + 0.5));
  const simulation::RunSeries series = simulation::run(run);
  TakeOutRun out;
  double before = in.from_skew_m;
  for (size_t i = 0; i < series.true_a_m.size(); ++i) {
    const double skew = series.true_a_m[i] - series.true_b_m[i], rate = (skew - before) / series.period_s;
    before = skew;
    if (series.time_s[i] < kRest_s) continue;
    out.skew_m.push_back(skew);
    out.moment_n_m.push_back((plant.yaw_stiffness_n_m_per_rad * skew + plant.yaw_damping_n_m_s_per_rad * rate) /
                             plant.span_m);
    out.fight_n.push_back((plant.a.force_scale * series.force_a_n[i] - plant.b.force_scale * series.force_b_n[i]) /
                          2);
    out.largest_moment_n_m = std::max(out.largest_moment_n_m, std::abs(out.moment_n_m.back()));
    out.largest_fight_n = std::max(out.largest_fight_n, std::abs(out.fight_n.back()));
    out.end_skew_m = skew;
  }
  out.there_after_s = there_after_s(in, out, series.period_s);
  return out;
}

}  // namespace evenbeam::homing
