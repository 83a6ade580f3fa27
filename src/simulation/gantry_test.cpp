#include "simulation/gantry.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>
#include <vector>

#include "base/cases_test.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"

using namespace evenbeam;
using dynamics::test::full_plant;

namespace {

dynamics::Plant frictionless(dynamics::Plant p) {
  p.a.coulomb_n = p.b.coulomb_n = 0;
  return p;
}
dynamics::Plant lossless(dynamics::Plant p) {
  p = frictionless(p);
  p.a.drive_damping_n_s_per_m = p.b.drive_damping_n_s_per_m = p.a.viscous_n_s_per_m = p.b.viscous_n_s_per_m = 0;
  p.yaw_damping_n_m_s_per_rad = p.bending_damping = p.carriage_damping_n_s_per_m = 0;
  return p;
}

dynamics::Effects rich_effects() {
  dynamics::Effects e;
  e.a = {.stribeck_n = 15, .cogging_n = 6, .cable_n = 4, .cable_n_per_m = 3};
  e.b = {.stribeck_n = 22, .cogging_n = 4, .cogging_phase_rad = 1, .cable_n = 9};
  e.stress_free_slope = 2e-5, e.stress_free_wave_m = 4e-6, e.stress_free_wave_length_m = 0.3;
  return e;
}

double worst_mirror(const simulation::GantryState& p, const simulation::GantryState& q) {
  return std::max(std::abs(p.x[0] - q.x[1]), std::abs(p.x[1] - q.x[0]));
}

}  // namespace

TEST_CASE("without friction the stepper is the exact sampled plant, fractional delay and lag included") {
  for (double delay : {0.0, 1e-4, 2.3e-4, 0.37e-4}) {
    auto plant = frictionless(full_plant());
    plant.delay_s = delay, plant.stress_free_skew_m = 0;
    const auto exact = dynamics::sampled(plant, 1e-4);
    const auto model = simulation::prepare({plant, {}, 3e-5}, 1e-4);
    auto state = simulation::standing(model, 0, 0, 1);
    Eigen::VectorXd x = Eigen::VectorXd::Zero(exact.a.rows());
    std::mt19937_64 draw(4);
    std::normal_distribution<double> normal(0, 200);
    double worst = 0, largest = 0;
    for (int k = 0; k < 3000; ++k) {
      const Eigen::Vector2d y = exact.c * x, u(normal(draw), normal(draw));
      const auto read = simulation::read_feedback(model, state);
      worst = std::max({worst, std::abs(read.a_m - y(0)), std::abs(read.b_m - y(1))});
      largest = std::max(largest, std::abs(y(0)));
      simulation::advance(model, state, {u(0), u(1)});
      x = exact.a * x + exact.b * u;
    }
    CAPTURE(delay);
    CHECK(largest > 1e-4);
    CHECK(worst < 1e-10 * largest);
  }
}

// Rounding of one matrix exponential, 5000 times: 5 of 2000 plants leave 1e-9, none 2e-9.
TEST_CASE("energy stays when all losses are off (random plants)") {
  double largest = 0;
  for (int seed = 1; seed <= base::test::cases(20); ++seed) {
    std::mt19937_64 draw(seed);
    const auto plant = lossless(dynamics::test::random_plant(draw));
    const auto model = simulation::prepare({plant, {}, 1e-4}, 1e-4);
    auto state = simulation::standing(model, 0.1, 3e-4, 1);
    state.x[model.coordinates] = 0.4, state.x[model.coordinates + 1] = 0.35;
    const double start = simulation::energy_j(model, state);
    double worst = 0;
    for (int k = 0; k < 5000; ++k) {
      simulation::advance(model, state, {});
      if (k % 50 == 0) worst = std::max(worst, std::abs(simulation::energy_j(model, state) - start));
    }
    CAPTURE(seed);
    CHECK(worst < 3e-9 * start);
    largest = std::max(largest, worst / start);
  }
  MESSAGE("largest change of energy over energy: ", largest);
}

TEST_CASE("energy falls at every step when losses are on, Stribeck, cable, ripple and varying stress-free skew too") {
  for (int seed = 1; seed <= base::test::cases(20); ++seed) {
    std::mt19937_64 draw(seed);
    auto plant = dynamics::test::random_plant(draw);
    auto effects = rich_effects();
    effects.stress_free_slope = effects.stress_free_wave_m = 0;  // its energy is not in energy_j
    const auto model = simulation::prepare({plant, effects, 2e-5}, 1e-4);
    auto state = simulation::standing(model, 0.1, 2e-4, 1);
    state.x[model.coordinates] = 0.4, state.x[model.coordinates + 1] = 0.35;
    double last = simulation::energy_j(model, state);
    const double start = last;
    CAPTURE(seed);
    for (int k = 0; k < 4000; ++k) {
      simulation::advance(model, state, {});
      const double now = simulation::energy_j(model, state);
      // A step's own error, second order in the step: 1e-6 of the start.
      REQUIRE(now < last + 1e-6 * start);
      last = now;
    }
    CHECK(last < 0.9 * start);
  }
}

TEST_CASE("mirror: swapping sides and y swaps the motion") {
  for (int seed = 1; seed <= base::test::cases(20); ++seed) {
    std::mt19937_64 draw(seed);
    const auto plant = dynamics::test::random_plant(draw);
    auto effects = rich_effects(), mirrored = effects;
    std::swap(mirrored.a, mirrored.b);
    mirrored.stress_free_slope *= -1, mirrored.stress_free_wave_m *= -1;
    const auto model = simulation::prepare({plant, effects, 1e-4}, 2e-4);
    const auto other = simulation::prepare({dynamics::test::mirrored(plant), mirrored, 1e-4}, 2e-4);
    auto p = simulation::standing(model, 0.2, 1e-4, 1), q = simulation::standing(other, 0.2, -1e-4, 1);
    double worst = 0;
    for (int k = 0; k < 1500; ++k) {
      const double a = 300 * std::sin(0.01 * k), b = 250 * std::cos(0.013 * k);
      simulation::advance(model, p, {a, b}), simulation::advance(other, q, {b, a});
      worst = std::max(worst, worst_mirror(p, q));
    }
    CAPTURE(seed);
    CHECK(worst < 1e-9);
  }
}

TEST_CASE("step convergence: halving the substep quarters the error, with LuGre friction and ripple") {
  auto plant = full_plant();
  auto effects = rich_effects();
  effects.a.presliding_m = effects.b.presliding_m = 2e-4;
  const auto places = [&](double step) {
    const auto model = simulation::prepare({plant, effects, step}, 4e-4);
    auto state = simulation::standing(model, 0, 0, 1);
    std::vector<double> out;
    for (int k = 0; k < 500; ++k) {
      simulation::advance(model, state, {200 * std::sin(0.04 * k), 180 * std::sin(0.04 * k + 0.1)});
      out.push_back(state.x[0]), out.push_back(state.x[1]);
    }
    return out;
  };
  const auto truth = places(1.25e-6);
  const auto error = [&](double step) {
    const auto found = places(step);
    double sum = 0;
    for (size_t k = 0; k < truth.size(); ++k) sum += (found[k] - truth[k]) * (found[k] - truth[k]);
    return std::sqrt(sum / double(truth.size()));
  };
  const double coarse = error(2e-5), fine = error(1e-5);
  MESSAGE("order of the step: ", std::log2(coarse / fine));
  CHECK(std::log2(coarse / fine) > 1.6);
  CHECK(std::log2(coarse / fine) < 2.4);
}

TEST_CASE("a force below Coulomb friction moves only the bristles; above, the bridge leaves") {
  auto plant = full_plant();
  plant.stress_free_skew_m = 0;
  const auto model = simulation::prepare({plant, {}, 1e-4}, 1e-4);
  auto state = simulation::standing(model, 0, 0, 1);
  // Slowly up to half of what slides: by hand, dz = dx (1 - z/z0) gives x = -z0 ln(1 - 1/2).
  for (int k = 0; k < 10000; ++k) {
    const double part = 0.5 * std::min(1.0, k / 8000.0);
    simulation::advance(model, state, {part * 42 / 1.02, part * 61 / 0.97});
  }
  CHECK(state.x[0] == base::test::near(1e-5 * std::log(2.0)).epsilon(0.02));
  CHECK(std::abs(state.x[model.coordinates]) < 1e-9);
  for (int k = 0; k < 5000; ++k) simulation::advance(model, state, {2 * 42 / 1.02, 2 * 61 / 0.97});
  CHECK(state.x[0] > 0.005);
}

TEST_CASE("a stop holds, a brake holds, and a dead drive gives nothing") {
  auto plant = full_plant();
  dynamics::Effects effects;
  for (auto* side : {&effects.a, &effects.b})
    side->stop_high_m = 0.05, side->stop_stiffness_n_per_m = 5e6, side->stop_damping_n_s_per_m = 4e3,
    side->brake_n = 900, side->brake_close_s = 0.02;
  const auto model = simulation::prepare({plant, effects, 1e-4}, 1e-4);
  auto state = simulation::standing(model, 0, 0, 1);
  for (int k = 0; k < 20000; ++k) simulation::advance(model, state, {300, 300});
  CHECK(state.x[0] > 0.05);
  CHECK(state.x[0] < 0.0502);
  state = simulation::standing(model, 0, 0, 1);
  for (int k = 0; k < 5000; ++k) simulation::advance(model, state, {500, 500, true, true});
  CHECK(state.a.brake == 1);
  CHECK(std::abs(state.x[0]) < 1e-3);
  state = simulation::standing(model, 0, 0, 1);
  state.a.broken.output_factor = state.b.broken.output_factor = 0;
  for (int k = 0; k < 2000; ++k) simulation::advance(model, state, {1000, 1000});
  CHECK(std::abs(state.x[0]) < 1e-4);
}

TEST_CASE("counts, scale, late sampling and freezing of the feedback") {
  auto plant = frictionless(full_plant());
  dynamics::Effects effects;
  effects.a.count_m = 1e-6, effects.a.scale_error = 1e-3, effects.b.sampled_late_s = 5e-5;
  const auto model = simulation::prepare({plant, effects, 1e-4}, 1e-4);
  auto state = simulation::standing(model, 0.1000004, 0, 1);
  state.x[model.coordinates + 1] = 2;
  auto read = simulation::read_feedback(model, state);
  CHECK(read.a_m == base::test::near(0.100100).epsilon(1e-9));
  CHECK(read.b_m == base::test::near(0.1000004 + 2 * 5e-5).epsilon(1e-12));
  state.a.broken.frozen_feedback = true;
  state.x[0] += 0.01;
  CHECK(simulation::read_feedback(model, state).a_m == read.a_m);
}

TEST_CASE("an impossible gantry is refused with all its troubles") {
  simulation::Gantry gantry{full_plant(), {}, 1e-4};
  gantry.plant.span_m = -1, gantry.effects.a.presliding_m = 0, gantry.plant.delay_s = 1;
  try {
    simulation::prepare(gantry, 1e-4);
    FAIL("accepted");
  } catch (const base::InputError& error) {
    CHECK(error.troubles().size() >= 3);
  }
}

TEST_CASE("pitch error is a wave of the place: by hand at a quarter, a half and a whole pitch, and with a phase") {
  dynamics::Effects effects;
  effects.a = {.pitch_error_m = 4e-6, .pitch_error_pitch_m = 0.02};
  effects.b = {.pitch_error_m = 4e-6, .pitch_error_pitch_m = 0.02, .pitch_error_phase_rad = std::numbers::pi / 6};
  const auto model = simulation::prepare({frictionless(full_plant()), effects, 1e-4}, 1e-4);
  auto state = simulation::standing(model, 0, 0, 1);
  const auto added = [&](double place_m) {
    state.x[0] = state.x[1] = place_m;
    const auto read = simulation::read_feedback(model, state);
    return std::pair{read.a_m - place_m, read.b_m - place_m};
  };
  CHECK(added(0.005).first == base::test::near(4e-6));
  CHECK(added(0.015).first == base::test::near(-4e-6));
  CHECK(std::abs(added(0.010).first) < 1e-15);
  CHECK(added(0).second == base::test::near(2e-6));         // sin 30 degrees
  CHECK(added(0.02 / 6).second == base::test::near(4e-6));  // 30 + 60
  CHECK(added(0.1 + 0.02 / 6).first == base::test::near(4e-6 * std::sqrt(3) / 2));
}

TEST_CASE("noise of the feedback is normal of the size given, and the sides' are strangers") {
  dynamics::Effects effects;
  effects.a.noise_m = 1e-7, effects.b.noise_m = 3e-7;
  const auto model = simulation::prepare({frictionless(full_plant()), effects, 1e-4}, 1e-4);
  auto state = simulation::standing(model, 0, 0, 7);
  const int n = 40000;
  double a = 0, b = 0, aa = 0, bb = 0, ab = 0, beyond = 0;
  for (int i = 0; i < n; ++i) {
    const auto read = simulation::read_feedback(model, state);
    const double u = read.a_m / 1e-7, v = read.b_m / 3e-7;
    a += u / n, b += v / n, aa += u * u / n, bb += v * v / n, ab += u * v / n,
        beyond += (std::abs(v) > 1.959964) * 1.0 / n;
  }
  // Each within five of its own standard errors; 5 % of a normal lie beyond 1.96 (any table).
  const double five = 5 / std::sqrt(double(n));
  CHECK(std::abs(a) < five);
  CHECK(std::abs(b) < five);
  CHECK(std::abs(aa - 1) < five * std::sqrt(2.0));
  CHECK(std::abs(bb - 1) < five * std::sqrt(2.0));
  CHECK(std::abs(ab) < five);
  CHECK(std::abs(beyond - 0.05) < five * std::sqrt(0.05 * 0.95));
}
