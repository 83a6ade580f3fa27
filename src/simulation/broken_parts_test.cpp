// Parts that can be broken besides those of plant_gaps_test.cpp: play in a drive, a spot of friction, a brake that
// drags, clocks that part, dead bands, trips and brakes of the controller. By hand calculation and by laws.
#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "base/cases_test.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "simulation/closed_loop.h"

using namespace evenbeam;
using simulation::RunDescription;

namespace {

dynamics::Plant two_hundred_kg() {
  dynamics::Plant p;
  p.span_m = 2;
  p.fixed_mass_kg = 200, p.fixed_inertia_kg_m2 = 95;
  p.yaw_stiffness_n_m_per_rad = 4e5, p.yaw_damping_n_m_s_per_rad = 3000;
  return p;
}

RunDescription moves(const dynamics::Plant& plant, double speed_m_per_s = 0.1) {
  RunDescription d;
  d.gantry.plant = plant;
  auto& s = d.loops.common;
  s.period_s = 2e-4, s.peak_force_a_n = s.peak_force_b_n = 3000, s.mass_ff_kg = dynamics::total_mass_kg(plant);
  s.mean = {40, 20000, 0.05, 0, {}}, s.skew = {40, 5000, 0.05, 0, {}};
  const trajectory::MoveLimits limits{speed_m_per_s, 4, 100};
  d.reference = simulation::track({trajectory::plan_move(0, 0, limits), trajectory::plan_move(0, 0.1, limits)}, 0.3,
                                  s.period_s);
  return d;
}

std::size_t at(const simulation::RunSeries& s, double time_s) {
  return static_cast<std::size_t>(std::llround(time_s / s.period_s));
}

}  // namespace

TEST_CASE(
    "play in a drive: its motor stands half the play ahead of the end when it pushes, and behind when it brakes") {
  auto plant = two_hundred_kg();
  for (auto* side : {&plant.a, &plant.b})
    *side = {.motor_mass_kg = 30, .drive_stiffness_n_per_m = 5e7, .drive_damping_n_s_per_m = 2000, .coulomb_n = 50};
  plant.feedback_on_motor = true;
  RunDescription d = moves(plant);
  const auto tight = simulation::run(d);
  d.gantry.effects.a.drive_play_m = d.gantry.effects.b.drive_play_m = 80e-6;
  const auto loose = simulation::run(d);
  // Cruise at constant speed against 50 N: the end lags the motor by play/2 + F/k.
  const std::size_t k = at(tight, 0.8);
  const auto lag = [&](const simulation::RunSeries& s) {
    return s.position_a_m[k] - (s.true_a_m[k] - s.true_a_m[0]);
  };
  CHECK(lag(tight) == base::test::near(50 / 5e7).epsilon(0.05));
  CHECK(lag(loose) == base::test::near(50 / 5e7 + 40e-6).epsilon(0.02));
  plant.a.drive_stiffness_n_per_m = 0;
  d.gantry.plant = plant;
  CHECK_THROWS_AS(simulation::run(d), base::InputError);  // a rigid drive has no play
}

TEST_CASE("a spot of friction and a dragging brake cost what they say, where they say") {
  auto plant = two_hundred_kg();
  plant.a.coulomb_n = plant.b.coulomb_n = 40;
  RunDescription d = moves(plant);
  d.gantry.effects.b.spot_n = 90, d.gantry.effects.b.spot_at_m = 0.05, d.gantry.effects.b.spot_width_m = 0.01;
  const auto spot = simulation::run(d);
  const auto force_at = [](const simulation::RunSeries& s, const std::vector<double>& force, double x) {
    std::size_t k = 0;
    while (s.true_b_m[k] < x) ++k;
    return force[k];
  };
  CHECK(force_at(spot, spot.force_b_n, 0.02) == base::test::near(40).epsilon(0.05));
  // At the top of the spot both sides together pay 40 + 40 + 90.
  CHECK(force_at(spot, spot.force_a_n, 0.05) + force_at(spot, spot.force_b_n, 0.05) ==
        base::test::near(170).epsilon(0.03));
  RunDescription drags = moves(plant);
  drags.gantry.effects.b.brake_drag_n = 35;
  const auto s = simulation::run(drags);
  CHECK(s.force_b_n[at(s, 0.8)] - s.force_a_n[at(s, 0.8)] == base::test::near(35).epsilon(0.03));
  plant.b.coulomb_n = 0;
  d.gantry.plant = plant;
  CHECK_THROWS_AS(simulation::run(d), base::InputError);
}

TEST_CASE("energy goes down with play, spots and dragging brakes (random plants)") {
  for (int seed = 1; seed <= base::test::cases(20); ++seed) {
    CAPTURE(seed);
    std::mt19937_64 draw(seed);
    auto plant = dynamics::test::random_plant(draw);
    for (auto* side : {&plant.a, &plant.b}) side->coulomb_n = 30;
    plant.delay_s = plant.current_lag_s = 0;
    dynamics::Effects e;
    for (auto* side : {&e.a, &e.b}) {
      side->spot_n = 60, side->spot_at_m = 0.1002, side->spot_width_m = 2e-4, side->brake_drag_n = 15;
    }
    if (plant.a.drive_stiffness_n_per_m > 0) e.a.drive_play_m = 20e-6;
    if (plant.b.drive_stiffness_n_per_m > 0) e.b.drive_play_m = 20e-6;
    const auto model = simulation::prepare({plant, e, 2e-5}, 1e-4);
    auto state = simulation::standing(model, 0.1, 3e-4, 1, false);
    state.x[static_cast<std::size_t>(model.coordinates)] = 0.05;
    double before = simulation::energy_j(model, state), rise = 0;
    const double start = before;
    for (int k = 0; k < 3000; ++k) {
      simulation::advance(model, state, {});
      const double now = simulation::energy_j(model, state);
      rise = std::max(rise, now - before), before = now;
    }
    CHECK(before < start);
    CHECK(rise < 2e-4 * start);  // what a held force of second order leaves
  }
}

TEST_CASE("clocks that part: skew as read grows with speed times what the clock has gone") {
  RunDescription d = moves(two_hundred_kg());
  d.loops.common.skew.velocity_gain_n_s_per_m = 0;  // nobody corrects it
  d.gantry.effects.b.sampled_late_s = 1e-3, d.gantry.effects.b.sampled_late_growth = 1e-3;
  const auto s = simulation::run(d);
  const std::size_t k = at(s, 1.0);
  CHECK(s.position_b_m[k] - s.position_a_m[k] - (s.true_b_m[k] - s.true_a_m[k]) ==
        base::test::near(0.1 * (1e-3 + 1e-3 * 1.0)).epsilon(1e-3));
}

TEST_CASE("dead bands, trips and brakes of the controller") {
  auto plant = two_hundred_kg();
  plant.a.coulomb_n = plant.b.coulomb_n = 40;
  RunDescription d = moves(plant);
  d.breaks.deadband_a_m = d.breaks.deadband_b_m = 1e-3;  // never left at rest
  const auto resting = simulation::run(d);
  CHECK(resting.force_a_n.back() == 0);
  CHECK(std::abs(resting.position_a_m.back() - resting.reference_a_m.back()) < 1e-3);
  // A dead drive: its side trips, the other goes on for 50 ms, then nothing is commanded and brakes hold.
  d = moves(plant, 0.3);
  d.faults.push_back({.at_s = 0.5, .side = simulation::SideName::b, .broken = {.output_factor = 0}, .gantry = {}});
  d.breaks.following_trip_b_m = 2e-4, d.breaks.partner_late_s = 0.05;
  d.gantry.effects.a.brake_n = d.gantry.effects.b.brake_n = 900;
  const auto s = simulation::run(d);
  CHECK(s.tripped_s > 0.5);
  CHECK(s.tripped_s < 0.6);
  CHECK(s.force_b_n[at(s, s.tripped_s)] == 0);
  CHECK(s.force_a_n[at(s, s.tripped_s + 0.049)] != 0);
  CHECK(s.force_a_n[at(s, s.tripped_s + 0.051)] == 0);
  CHECK(s.true_a_m.back() == base::test::near(s.true_a_m[s.true_a_m.size() - 100]).epsilon(1e-4));
  // Brakes shut until 0.2 s hold the bridge against a push; B opens 60 ms late.
  RunDescription open;
  open.gantry.plant = plant, open.loops_open = true, open.loops.common.period_s = 2e-4;
  open.gantry.effects.a.brake_n = open.gantry.effects.b.brake_n = 900;
  open.gantry.effects.b.brake_release_s = 0.06;
  open.reference.mean_m.assign(2000, 0.0);
  open.added_a_n.assign(2000, 150.0), open.added_b_n.assign(2000, 150.0);
  open.breaks.brakes_open_s = 0.2;
  const auto pushed = simulation::run(open);
  CHECK(std::abs(pushed.true_a_m[990]) < 5e-6);
  CHECK(pushed.true_a_m[1250] - pushed.true_b_m[1250] > 1e-4);  // A alone is free
  CHECK(pushed.true_b_m.back() > 1e-3);
  // Off, and on again: the loops forget, the outputs come back.
  d = moves(plant);
  d.breaks.off_s = 0.4, d.breaks.on_s = 0.5;
  const auto again = simulation::run(d);
  CHECK(again.force_a_n[at(again, 0.45)] == 0);
  CHECK(std::abs(again.position_a_m.back() - again.reference_a_m.back()) < 1e-4);
}
