#include "simulation/closed_loop.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/input_error.h"
#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "simulation/linear_loop.h"

using namespace evenbeam;
using dynamics::test::full_plant;

namespace {

machine::Settings soft_settings() {
  machine::Settings s;
  s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 3000, s.share = 0.48, s.mass_ff_kg = 420;
  s.mean = {20, 16000, 0.08, 1500, {}};
  s.skew = {30, 2500, 0.06, 1200, {}};
  return s;
}

simulation::RunDescription test_move(const dynamics::Plant& plant) {
  simulation::RunDescription d;
  d.gantry.plant = plant;
  d.loops.common = soft_settings();
  const trajectory::MoveLimits limits{1, 5, 120};
  d.reference = simulation::track({trajectory::plan_move(0, 0.3, limits), trajectory::plan_move(0.3, -0.3, limits)},
                                  0.1, d.loops.common.period_s);
  return d;
}

}  // namespace

TEST_CASE("closed-loop run without friction = closed loop in state space") {
  auto plant = full_plant();
  plant.a.coulomb_n = plant.b.coulomb_n = 0, plant.stress_free_skew_m = 0;
  auto d = test_move(plant);
  d.reference.skew_m.assign(d.reference.mean_m.size(), 0);
  for (size_t k = 500; k < 4000; ++k) d.reference.skew_m[k] = 2e-5;
  const auto series = simulation::run(d);
  const auto loop = simulation::closed_loop(plant, d.loops.common);
  Eigen::VectorXd x = Eigen::VectorXd::Zero(loop.a.rows());
  double worst = 0, skew_rate_before = 0, skew_before = 0;
  for (size_t k = 0; k < series.time_s.size(); ++k) {
    const double skew = d.reference.skew_m[k];
    const double rate = k ? (skew - skew_before) / 1e-4 : 0, rate2 = k ? (rate - skew_rate_before) / 1e-4 : 0;
    Eigen::VectorXd u(simulation::loop_inputs);
    u << d.reference.mean_m[k], d.reference.mean_m_per_s[k], d.reference.mean_m_per_s2[k], skew, rate, rate2, 0, 0;
    const Eigen::VectorXd y = loop.c * x + loop.d * u;
    worst = std::max({worst, std::abs(y(0) - series.position_a_m[k]), std::abs(y(1) - series.position_b_m[k])});
    x = loop.a * x + loop.b * u;
    skew_before = skew, skew_rate_before = rate;
  }
  CHECK(worst < 1e-9);
  CHECK(series.clipped == 0);
  CHECK(series.peak_skew_error_m > 1e-5);
}

TEST_CASE("same seed, same bits; another seed, another noise; cancel stops early") {
  auto d = test_move(full_plant());
  d.gantry.effects.a.noise_m = d.gantry.effects.b.noise_m = 1e-7;
  d.gantry.effects.a.count_m = d.gantry.effects.b.count_m = 1e-7;
  const auto one = simulation::run(d), two = simulation::run(d);
  CHECK(one.position_a_m == two.position_a_m);
  CHECK(one.force_b_n == two.force_b_n);
  d.seed = 2;
  CHECK(simulation::run(d).position_a_m != one.position_a_m);
  int calls = 0;
  const auto cancelled = simulation::run(d, [&](double) { return ++calls < 10; });
  CHECK(cancelled.cancelled);
  CHECK(cancelled.time_s.size() < one.time_s.size() / 5);
}

TEST_CASE("the balanced share and friction feed-forward leave less skew than equal halves") {
  auto plant = full_plant();
  plant.stress_free_skew_m = 0, plant.a.force_scale = plant.b.force_scale = 1;
  auto d = test_move(plant);
  d.loops.common.share = 0.5;
  const double equal = simulation::run(d).peak_skew_error_m;
  auto& s = d.loops.common;
  s.share = dynamics::balanced_share(plant);
  s.mass_ff_kg = dynamics::total_mass_kg(plant);
  s.coulomb_ff_a_n = plant.a.coulomb_n, s.coulomb_ff_b_n = plant.b.coulomb_n;
  s.viscous_ff_a_n_s_per_m = plant.a.viscous_n_s_per_m, s.viscous_ff_b_n_s_per_m = plant.b.viscous_n_s_per_m;
  const double shared = simulation::run(d).peak_skew_error_m;
  CAPTURE(equal);
  CAPTURE(shared);
  CHECK(shared < 0.4 * equal);
}

TEST_CASE("a dead drive skews the bridge; switching both off ends it; judged peak equals the run's") {
  auto d = test_move(full_plant());
  const auto sound = simulation::run(d);
  simulation::FaultEvent dead{0.15, simulation::SideName::b, {}, false}, off{0.17, simulation::SideName::a, {}, true};
  dead.broken.output_factor = 0;
  d.faults = {dead, off};
  const auto broken = simulation::run(d);
  CHECK(broken.peak_true_skew_error_m > 3 * sound.peak_true_skew_error_m);
  CHECK(broken.force_a_n.back() == 0);
  const auto judged = simulation::judge(sound, 1e-3);
  CHECK(judged.peak_skew_m == base::test::near(sound.peak_skew_error_m).epsilon(1e-12));
  CHECK(judged.rms_skew_m < judged.peak_skew_m);
  CHECK(judged.settle_s >= 0);
}

TEST_CASE("zeros where switched on: a start skew within friction is not seen, and the start place does not matter") {
  auto plant = full_plant();
  plant.stress_free_skew_m = 0;
  auto d = test_move(plant);
  const auto plain = simulation::run(d);
  d.start_mean_m = 0.7;
  const auto moved = simulation::run(d);
  CHECK(moved.position_a_m.front() == 0);
  CHECK(std::abs(moved.position_a_m.back() - plain.position_a_m.back()) < 1e-9);
}

TEST_CASE("a commanded skew is no error: a following trip sees what is left of it") {
  auto plant = full_plant();
  plant.a.coulomb_n = plant.b.coulomb_n = 0, plant.stress_free_skew_m = 0;
  plant.yaw_stiffness_n_m_per_rad = 1e4;
  auto d = test_move(plant);
  d.reference = {.mean_m = std::vector<double>(4000, 0.0)};
  d.reference.skew_m.assign(4000, 0.0);
  for (size_t k = 0; k < 4000; ++k) d.reference.skew_m[k] = 2e-4 * std::min(1.0, double(k) / 3000);
  const auto s = simulation::run(d);
  double error = 0, size = 0;
  for (size_t k = 0; k < s.time_s.size(); ++k) {
    error = std::max(
        {error, std::abs(s.position_a_m[k] - s.reference_a_m[k]), std::abs(s.position_b_m[k] - s.reference_b_m[k])});
    size = std::max(size, std::abs(s.position_a_m[k]));
  }
  REQUIRE(error < 0.6 * size);  // else a trip between the two tells nothing
  d.breaks.following_trip_a_m = d.breaks.following_trip_b_m = (error + size) / 2;
  CHECK(std::isnan(simulation::run(d).tripped_s));
  d.breaks.following_trip_a_m = d.breaks.following_trip_b_m = 0.9 * error;
  CHECK_FALSE(std::isnan(simulation::run(d).tripped_s));
}

TEST_CASE("added outputs of another length are refused, whichever side's") {
  const auto d = test_move(full_plant());
  const size_t n = d.reference.mean_m.size();
  for (bool at_a : {true, false}) {
    auto short_one = d;
    (at_a ? short_one.added_a_n : short_one.added_b_n).assign(n - 1, 1.0);
    CHECK_THROWS_AS(simulation::run(short_one), base::InputError);
  }
  auto both = d;
  both.added_a_n.assign(n, 0.0), both.added_b_n.assign(n, 0.0);
  CHECK(simulation::run(both).end_a_m == simulation::run(d).end_a_m);
}
