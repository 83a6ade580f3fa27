// What the plant can be and can suffer beyond the common case: play in yaw, ends that are not bolted, two motors a
// side, a carriage that travels within a closed-loop run, parts that break in motion; and laws: time runs backwards,
// stops are met inside a substep.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "base/cases_test.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "simulation/closed_loop.h"

using namespace evenbeam;
using dynamics::test::full_plant;

namespace {

dynamics::Plant rigid(double yaw_stiffness) {
  dynamics::Plant p;
  p.span_m = 2;
  p.fixed_mass_kg = 180, p.fixed_inertia_kg_m2 = 95;
  p.carriage_mass_kg = 20;
  p.yaw_stiffness_n_m_per_rad = yaw_stiffness;
  return p;
}

dynamics::Plant lossless(dynamics::Plant p) {
  for (auto* side : {&p.a, &p.b}) side->coulomb_n = side->viscous_n_s_per_m = side->drive_damping_n_s_per_m = 0;
  p.yaw_damping_n_m_s_per_rad = p.bending_damping = p.carriage_damping_n_s_per_m = 0;
  return p;
}

simulation::RunDescription soft_move(const dynamics::Plant& plant) {
  simulation::RunDescription d;
  d.gantry.plant = plant;
  auto& s = d.loops.common;
  s.period_s = 2e-4, s.peak_force_a_n = s.peak_force_b_n = 3000, s.mass_ff_kg = dynamics::total_mass_kg(plant);
  s.mean = {15, 9000, 0.1, 0, {}}, s.skew = {20, 2500, 0.1, 0, {}};
  d.reference = simulation::track({trajectory::plan_move(0, 0.4, {0.6, 3, 60})}, 0.3, s.period_s);
  return d;
}

}  // namespace

TEST_CASE("play in yaw: a free swing of amplitude a takes the period of a gapped spring, energy kept") {
  // By hand: beyond the play two half swings, 2 pi/w in all; inside it the way `play` twice at speed w (a - play/2).
  const double k = 4e5, play = 2e-4, amplitude = 5e-4;
  simulation::Gantry gantry{rigid(k), {}, 1e-5};
  gantry.effects.yaw_play_m = play;
  const auto model = simulation::prepare(gantry, 1e-4);
  auto state = simulation::standing(model, 0, amplitude, 1);
  const double w = std::sqrt(k / 95), start = simulation::energy_j(model, state);
  CHECK(start == base::test::near(0.5 * k * std::pow((amplitude - play / 2) / 2, 2)));
  double first = 0, worst = 0, before = amplitude;
  int falling = 0;
  while (falling < 3) {
    simulation::advance(model, state, {});
    const double skew = state.x[0] - state.x[1];
    if (before > 0 && skew <= 0 && ++falling == 1) first = state.time_s;
    before = skew;
    worst = std::max(worst, std::abs(simulation::energy_j(model, state) - start));
    REQUIRE(state.time_s < 10);
  }
  const double by_hand = 2 * std::numbers::pi / w + 2 * play / (w * (amplitude - play / 2));
  CHECK((state.time_s - first) / 2 == base::test::near(by_hand).epsilon(0.002));
  CHECK(worst < 1e-3 * start);
}

TEST_CASE("pivoted ends: a push of one side turns the bridge freely; flexures are a soft yaw spring") {
  // Free: theta'' = (L/2) F/J, so s = L^2 F t^2/4J.
  const auto free = simulation::prepare({rigid(0), {}, 1e-4}, 1e-4);
  auto state = simulation::standing(free, 0, 0, 1);
  for (int k = 0; k < 2000; ++k) simulation::advance(free, state, {50, 0});
  CHECK(state.x[0] - state.x[1] == base::test::near(4 * 50 * 0.2 * 0.2 / (4 * 95)).epsilon(1e-9));
  // Soft ends: a constant force of one side swings to twice L^2 F/2K.
  const double k_soft = 3e3;
  const auto soft = simulation::prepare({rigid(k_soft), {}, 1e-4}, 1e-4);
  state = simulation::standing(soft, 0, 0, 1);
  double largest = 0;
  for (int k = 0; k < 8000; ++k) {
    simulation::advance(soft, state, {10, 0});
    largest = std::max(largest, state.x[0] - state.x[1]);
  }
  CHECK(largest == base::test::near(2 * 4 * 10 / (2 * k_soft)).epsilon(1e-4));
}

TEST_CASE("two motors a side are one of their sum; one of them failing is half the side's force") {
  const auto model = simulation::prepare({rigid(4e5), {}, 1e-4}, 1e-4);
  auto whole = simulation::standing(model, 0, 0, 1), half = whole;
  half.a.broken.output_factor = 0.5;
  for (int k = 0; k < 500; ++k) {
    simulation::advance(model, whole, {30, 40});
    simulation::advance(model, half, {60, 40});
  }
  CHECK(half.x == whole.x);
}

TEST_CASE("a carriage that travels in a closed-loop run: standing it changes nothing, moving it turns the bridge") {
  auto d = soft_move(full_plant());
  const auto stands = simulation::run(d);
  d.carriage.assign(d.reference.mean_m.size(), {.y_m = full_plant().carriage_y_m});
  const auto also_stands = simulation::run(d);
  double worst = 0;
  for (std::size_t k = 0; k < stands.time_s.size(); ++k)
    worst = std::max(worst, std::abs(stands.true_a_m[k] - also_stands.true_a_m[k]));
  CHECK(worst < 4e-7);  // of 0.4 m: other substeps, interpolation
  d.carriage = simulation::carriage_track({trajectory::plan_move(-0.5, 1.0, {3, 12, 300})}, 0.1, 2e-4);
  CHECK_THROWS_AS(simulation::run(d), base::InputError);  // another length
  d.carriage.resize(d.reference.mean_m.size(), {.y_m = 0.5});
  const double moving = simulation::run(d).peak_true_skew_error_m;
  CHECK(std::abs(moving - stands.peak_true_skew_error_m) > 0.1 * stands.peak_true_skew_error_m);
  // Carriage ahead of the mid-line, everything else at rest: its acceleration is a moment -m h y'' on yaw, and the
  // skew swings about -L m h y''/K.
  auto still = soft_move(lossless(rigid(4e5)));
  still.gantry.plant.carriage_ahead_m = 0.2;
  still.reference = {.mean_m = std::vector<double>(1000, 0.0)};
  still.loops.common.skew.velocity_gain_n_s_per_m = 0;  // guides alone
  for (int k = 0; k < 1000; ++k) {
    const double t = k * 2e-4;
    still.carriage.push_back({2 * t * t / 2, 2 * t, 2});
  }
  const auto pushed = simulation::run(still);
  double mean = 0;
  for (std::size_t k = 0; k < 1000; ++k) mean += (pushed.true_a_m[k] - pushed.true_b_m[k]) / 1000;
  CHECK(mean == base::test::near(-20 * 0.2 * 2 * 2 / 4e5).epsilon(0.15));
}

TEST_CASE("any part breaks in motion: from an instant on the gantry is another") {
  const auto d = soft_move(full_plant());
  const auto sound = simulation::run(d);
  const auto broken = [&](auto change) {
    auto other = d;
    simulation::FaultEvent event{.at_s = 0.2};
    event.gantry = d.gantry;
    change(*event.gantry);
    other.faults = {event};
    return simulation::run(other);
  };
  using G = simulation::Gantry;
  CHECK(broken([](G&) {}).end_a_m == sound.end_a_m);
  const simulation::RunSeries parts[] = {
      broken([](G& g) { g.plant.a.drive_stiffness_n_per_m /= 200; }),   // coupling slips
      broken([](G& g) { g.plant.bending_hz /= 4; }),                    // beam cracks
      broken([](G& g) { g.plant.yaw_stiffness_n_m_per_rad /= 20; }),    // mounting comes loose
      broken([](G& g) { g.plant.stress_free_skew_m += 2e-4; }),         // an end shifts
      broken([](G& g) { g.effects.yaw_play_m = 3e-4; }),                // a guide loses preload
      broken([](G& g) { g.plant.carriage_stiffness_n_per_m /= 100; }),  // carriage comes loose
      broken([](G& g) { g.plant.payload_kg = 0; }),                     // payload dropped
      broken([](G& g) { g.plant.b.coulomb_n *= 4; }),                   // a guide runs dry
      broken([](G& g) { g.effects.a.cogging_n = 80; }),                 // a magnet is lost
      broken([](G& g) { g.effects.b.cable_n = 150; }),                  // a cable catches
      broken([](G& g) { g.plant.current_lag_s *= 8; }),                 // a current loop gone soft
      broken([](G& g) { g.effects.a.peak_force_n = 120; }),             // a drive derates
      broken([](G& g) { g.effects.a.count_m = 5e-5; }),                 // a scale loses interpolation
      broken([](G& g) { g.effects.b.scale_error = 2e-3; }),             // a scale slips
      broken([](G& g) { g.effects.a.noise_m = 2e-5; }),                 // a screen comes off
      broken([](G& g) { g.effects.b.sampled_late_s = 4e-4; }),          // sampling drifts apart
      broken([](G& g) { g.effects.a.stop_high_m = 0.2, g.effects.a.stop_stiffness_n_per_m = 4e6; }),  // in the way
  };
  for (std::size_t i = 0; i < std::size(parts); ++i) {
    CAPTURE(i);
    bool same = true;
    for (std::size_t k = 0; k < 990; ++k) same = same && parts[i].true_a_m[k] == sound.true_a_m[k];
    CHECK(same);
    CHECK(parts[i].end_a_m - parts[i].end_b_m != sound.end_a_m - sound.end_b_m);
  }
  CHECK_THROWS_AS(broken([](G& g) { g.plant.bending_hz = 0; }), base::InputError);
}

TEST_CASE("time runs backwards: lossless motion returns when speeds and forces are turned (random plants)") {
  for (int seed = 1; seed <= base::test::cases(20); ++seed) {
    std::mt19937_64 draw(seed);
    auto plant = lossless(dynamics::test::random_plant(draw));
    plant.delay_s = plant.current_lag_s = 0;  // these remember
    const auto model = simulation::prepare({plant, {}, 1e-4}, 1e-4);
    auto state = simulation::standing(model, 0.1, 2e-4, 1);
    const auto start = state;
    std::vector<simulation::Commands> forces;
    for (int k = 0; k < 2000; ++k) forces.push_back({200 * std::sin(0.011 * k), 150 * std::cos(0.017 * k)});
    double travelled = 0;
    for (const auto& f : forces) {
      simulation::advance(model, state, f);
      travelled = std::max(travelled, std::abs(state.x[0] - start.x[0]));
    }
    for (int i = model.coordinates; i < 2 * model.coordinates; ++i) state.x[i] = -state.x[i];
    for (auto f = forces.rbegin(); f != forces.rend(); ++f) simulation::advance(model, state, *f);
    CAPTURE(seed);
    REQUIRE(travelled > 1e-4);
    for (int i = 0; i < model.coordinates; ++i) CHECK(std::abs(state.x[i] - start.x[i]) < 1e-9);
  }
}

TEST_CASE("a stop met inside a substep, its instant not located: halving the substep still quarters the error") {
  // 200 kg at 0.3 m/s into springs of 2 x 2e6 N/m. Exact: half a period pi/w in touch, then back at -0.3 m/s. The
  // error depends on where in the substep the touch falls: root mean square over 40 places of the stop.
  const double w = std::sqrt(4e6 / 200), v = 0.3;
  const auto error = [&](double step) {
    double sum = 0;
    for (int i = 0; i < 40; ++i) {
      const double stop = 0.0101 + 3e-6 * i;
      dynamics::Effects effects;
      for (auto* side : {&effects.a, &effects.b}) side->stop_high_m = stop, side->stop_stiffness_n_per_m = 2e6;
      const auto model = simulation::prepare({rigid(4e5), effects, step}, 4e-4);
      auto state = simulation::standing(model, 0, 0, 1);
      state.x[2] = state.x[3] = v;
      for (int k = 0; k < 250; ++k) simulation::advance(model, state, {});
      const double exact = stop - v * (0.1 - stop / v - std::numbers::pi / w);
      sum += std::pow(state.x[0] - exact, 2);
    }
    return std::sqrt(sum / 40);
  };
  const double coarse = error(4e-4), fine = error(1e-4);
  CAPTURE(coarse);
  CAPTURE(fine);
  CHECK(coarse / fine > 10);
  CHECK(fine < 5e-6);  // of 30 mm way
}

TEST_CASE("time passes under a travelling carriage too: a clock that drifts reads later and later") {
  const auto plant = full_plant();
  const auto grid = simulation::prepare_moving({plant, {}, 1e-4}, 2e-4, -0.5, 0.5);
  auto state = simulation::standing(grid.models[0], 0, 0, 1);
  for (int k = 0; k < 10; ++k) simulation::advance(grid, state, {}, {.y_m = 0.1});
  CHECK(state.time_s == base::test::near(10 * 2e-4));
}
