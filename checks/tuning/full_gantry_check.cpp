// The demo's proposed settings on the full virtual gantry: friction before sliding and breakaway, ripple of the
// motors, pitch error of the scales, counts and noise, none of which the forecast's plant has. The forecast must say
// what the linear plant with friction says of it, and the loops must stay quiet with gains times 0.6 and 1.6.
#include <doctest/doctest.h>

#include <cmath>

#include "../demo_job.h"
#include "tuning/loops_station.h"

namespace evenbeam::tuning {
namespace {

simulation::RunSeries run_full(const ForecastMove& move, const dynamics::Plant& plant, const machine::Settings& loops,
                               double count_m, double ripple_part) {
  simulation::RunDescription d;
  d.gantry.plant = at_case(plant, {move.carriage_y_m, move.payload_kg});
  const double phase[] = {0.4, 2.1};
  int k = 0;
  for (dynamics::SideEffects* e : {&d.gantry.effects.a, &d.gantry.effects.b}) {
    const dynamics::PlantSide& side = k == 0 ? plant.a : plant.b;
    e->stribeck_n = 0.1 * side.coulomb_n;
    e->cogging_n = ripple_part * side.coulomb_n, e->cogging_pitch_m = 0.005, e->cogging_phase_rad = phase[k];
    e->pitch_error_m = 0.3e-6, e->pitch_error_phase_rad = phase[1 - k];
    e->count_m = count_m, e->noise_m = 0.2 * count_m;
    ++k;
  }
  d.loops.common = loops;
  d.reference = move.reference;
  d.start_skew_m = plant.stress_free_skew_m;
  d.seed = 9;
  return simulation::run(d);
}

}  // namespace

TEST_CASE(
    "settings on the full virtual gantry: the forecast's band holds the peak, gains x 0.6 and x 1.6 stay quiet") {
  const checks::DemoJob job = checks::demo_job();
  const auto id = identification::identify(job.recordings, job.machine);
  const Proposal p = propose(id, job.machine);
  REQUIRE(p.found);
  int moves = 0;
  for (const auto& r : job.recordings) {
    if (!is_test_move(r)) continue;
    const ForecastMove move = move_of(r, job.machine, *job.machine.servo_period_s);
    const machine::Settings s = at_place(p, p.settings, move.carriage_y_m);
    const ForecastOptions options = forecast_options(&r, job.machine);
    const MoveForecast f = forecast(move, id, s, options);
    const double peak = run_full(move, id.plant, s, options.count_a_m, 0.04).peak_skew_error_m;
    CAPTURE(r.name);
    CAPTURE(f.peak_skew_m);
    CAPTURE(f.lower_m);
    CAPTURE(f.upper_m);
    CAPTURE(peak);
    CHECK(peak >= f.lower_m - options.count_a_m);
    CHECK(peak <= f.upper_m + options.count_a_m);
    for (double factor : {0.6, 1.6}) {
      machine::Settings other = s;
      other.mean.velocity_gain_n_s_per_m *= factor, other.skew.velocity_gain_n_s_per_m *= factor;
      const double there = run_full(move, id.plant, other, options.count_a_m, 0.04).peak_skew_error_m;
      CAPTURE(factor);
      CAPTURE(there);
      CHECK(there < 3 * peak + 10 * options.count_a_m);
    }
    ++moves;
  }
  CHECK(moves >= 3);
}

}  // namespace evenbeam::tuning
