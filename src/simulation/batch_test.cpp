#include "simulation/batch.h"

#include <doctest/doctest.h>

#include "dynamics/sample_plant_test.h"

using namespace evenbeam;

namespace {

// Machines of several shapes, some clipped, one with ripple (runs alone): packs of eight, of four and smaller ones.
constexpr int count = 26;
std::vector<simulation::BatchMachine> machines() {
  std::vector<simulation::BatchMachine> out;
  for (int i = 0; i < count; ++i) {
    std::mt19937_64 draw(i + 1);
    simulation::BatchMachine m;
    m.gantry.plant = dynamics::test::full_plant();
    auto& p = m.gantry.plant;
    p.carriage_y_m = -0.6 + 0.045 * i, p.a.coulomb_n = 30 + 2 * i, p.delay_s = 1.3e-4;
    if (i % 5 == 4) p.bending_hz = 0;
    if (i % 2) m.gantry.effects.a.stribeck_n = 10;
    m.gantry.effects.a.count_m = m.gantry.effects.b.count_m = 1e-7;
    m.gantry.effects.b.stop_high_m = 0.08 + 0.008 * i, m.gantry.effects.b.stop_stiffness_n_per_m = 3e6;
    if (i == 7) m.gantry.effects.a.cogging_n = 5;
    m.loops.period_s = 1e-4, m.loops.share = 0.47 + 0.003 * i, m.loops.mass_ff_kg = 420;
    m.loops.peak_force_a_n = m.loops.peak_force_b_n = i % 3 ? 3000 : 900;
    m.loops.coulomb_ff_a_n = 20, m.loops.viscous_ff_b_n_s_per_m = 100, m.loops.offset_b_n = 3;
    m.loops.mean = {20, 16000, 0.08, 1500, {{95, 0.1, 0.5}}};
    m.loops.skew = {30, 2500, 0.06, 1200, {}};
    m.start_skew_m = 1e-5 * i;
    out.push_back(m);
  }
  return out;
}

}  // namespace

TEST_CASE("each lane gives the bits of the machine alone, for one thread and for two") {
  const auto all = machines();
  const auto track = simulation::track({trajectory::plan_move(0, 0.15, {1, 6, 150})}, 0.05, 1e-4);
  const auto one = simulation::run_batch(all, track, 1), two = simulation::run_batch(all, track, 2);
  int beside = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    simulation::RunDescription d;
    d.gantry = all[i].gantry, d.loops.common = all[i].loops, d.reference = track,
    d.start_skew_m = all[i].start_skew_m;
    const auto alone = simulation::run(d);
    CAPTURE(i);
    CHECK(one[i].peak_skew_error_m == alone.peak_skew_error_m);
    CHECK(one[i].peak_true_skew_error_m == alone.peak_true_skew_error_m);
    CHECK(one[i].end_a_m == alone.end_a_m);
    CHECK(one[i].end_b_m == alone.end_b_m);
    CHECK(one[i].clipped == alone.clipped);
    CHECK(two[i].end_a_m == one[i].end_a_m);
    CHECK(one[i].done);
    beside += one[i].side_by_side;
  }
  CHECK(beside >= 20);
  CHECK_FALSE(one[7].side_by_side);
  CHECK(one[0].clipped > 100);
}

TEST_CASE("a batch can be cancelled; what was not done says so") {
  auto all = machines();
  for (auto& m : all) m.gantry.effects.a.cogging_n = 1;  // all runs alone
  const auto track = simulation::track({trajectory::plan_move(0, 0.02, {1, 6, 150})}, 0, 1e-4);
  int calls = 0;
  const auto results = simulation::run_batch(all, track, 1, [&](double) { return ++calls < 3; });
  CHECK(results[2].done);
  CHECK_FALSE(results[9].done);
}
