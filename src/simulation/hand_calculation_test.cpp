// Three happenings on a bolted bridge against hand calculation: a push of one side, a search with a dead side, a tied
// move with the carriage at either end.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"
#include "simulation/closed_loop.h"

using namespace evenbeam;

namespace {

dynamics::Plant bolted(double carriage_y_m) {
  dynamics::Plant p;
  p.span_m = 2;
  p.fixed_mass_kg = 180, p.fixed_inertia_kg_m2 = 95;
  p.carriage_mass_kg = 60, p.carriage_y_m = carriage_y_m;
  p.yaw_stiffness_n_m_per_rad = 8e5, p.yaw_damping_n_m_s_per_rad = 0;
  p.a.motor_mass_kg = p.b.motor_mass_kg = 80;
  p.delay_s = 1e-4;
  return p;
}

}  // namespace

TEST_CASE("push of one side: yaw swings to twice L (L F/2 + S F/M)/K_th, the mean goes F t^2/2M") {
  // By hand: f_m = F, L d = L F/2. With x_m'' from eq. 4 put into eq. 5 the moment on yaw is L F/2 + S F/M, constant,
  // on an undamped oscillator at rest: it swings to twice the static angle and back.
  const auto plant = bolted(0.5);
  const double force = 40, mass = 400, moment = 60 * 0.5;
  const double peak = 2 * 2 * (2 * force / 2 + moment * force / mass) / 8e5;
  const auto model = simulation::prepare({plant, {}, 1e-4}, 1e-4);
  auto state = simulation::standing(model, 0, 0, 1);
  const double inertia = 95 + 60 * 0.25 + 160 - moment * moment / mass;
  const double half_swing = M_PI / std::sqrt(8e5 / inertia);
  double largest = 0, time = 0;
  for (int k = 0; state.time_s < 1.2 * half_swing; ++k) {
    simulation::advance(model, state, {force, 0});
    const double skew = state.x[0] - state.x[1];
    if (skew > largest) largest = skew, time = state.time_s;
  }
  CHECK(largest == base::test::near(peak).epsilon(1e-3));
  CHECK(time - 1e-4 == base::test::near(half_swing).epsilon(0.01));  // the command comes one period late
  // The centre of mass knows nothing of yaw: M x_m - S theta = F t^2/2.
  const double since = state.time_s - 1e-4;
  const double mean = 0.5 * (state.x[0] + state.x[1]), yaw = (state.x[0] - state.x[1]) / 2;
  CHECK(mass * mean - moment * yaw == base::test::near(force * since * since / 2).epsilon(1e-6));
}

TEST_CASE("search with a dead side: A drags B's friction through the bridge, skew s_free + L^2 r_B/K_th") {
  // By hand, steady speed: F_A = r_A + r_B, F_B = 0, so L d - (L/2)(r_A - r_B) = L r_B = K_th (s - s_free)/L.
  auto plant = bolted(0);
  plant.a.coulomb_n = 40, plant.b.coulomb_n = 55, plant.b.viscous_n_s_per_m = 100, plant.stress_free_skew_m = 3e-5;
  plant.yaw_damping_n_m_s_per_rad = 4000;
  simulation::RunDescription d;
  d.gantry = {plant, {}, 1e-4};
  d.loops.structure = servo::Structure::independent;
  auto& s = d.loops.common;
  s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 2000;
  d.loops.side_a = {15, 6000, 0.1, 0, {}}, d.loops.side_b = {15, 6000, 0, 0, {}};
  d.reference = simulation::track({trajectory::plan_move(0, 0.06, {0.02, 0.5, 10})}, 0, 1e-4);
  simulation::FaultEvent dead;
  dead.side = simulation::SideName::b, dead.broken.output_factor = 0;
  d.faults = {dead};
  d.start_skew_m = 3e-5;
  const auto series = simulation::run(d);
  const size_t middle = series.time_s.size() / 2;
  REQUIRE(series.reference_a_m[middle] - series.reference_a_m[middle - 1] == base::test::near(0.02 * 1e-4));
  const double by_hand = 3e-5 + 4 * (55 + 100 * 0.02) / 8e5;
  CHECK(series.true_a_m[middle] - series.true_b_m[middle] == base::test::near(by_hand).epsilon(0.01));
  CHECK(series.force_a_n[middle] == base::test::near(40 + 55 + 2).epsilon(0.02));
}

TEST_CASE("tied move, carriage at either end: the skew loop ends up giving the share, f_s = -(S/M L) f_m") {
  // By hand: no yaw under constant acceleration needs d = -(S/(M L)) f_m (docs/equations.md); equal halves from the
  // mean, so all of it is the skew loop's. Friction free; the acceleration lasts until the integral has settled.
  for (double y : {-0.8, 0.0, 0.8}) {
    auto plant = bolted(y);
    plant.yaw_damping_n_m_s_per_rad = 4000;
    simulation::RunDescription d;
    d.gantry = {plant, {}, 1e-4};
    auto& s = d.loops.common;
    s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 5000, s.mass_ff_kg = 400;
    s.mean = {15, 12000, 0.1, 0, {}}, s.skew = {30, 6000, 0.03, 0, {}};
    d.reference = simulation::track({trajectory::plan_move(0, 8, {4, 2, 50})}, 0, 1e-4);
    const auto series = simulation::run(d);
    const size_t at = 18000;  // 1.8 s: accelerating since 0.04 s, until about 2 s
    const double a = series.force_a_n[at], b = series.force_b_n[at];
    CAPTURE(y);
    CHECK(a + b == base::test::near(400 * 2).epsilon(0.005));
    CHECK(std::abs((a - b) / 2 + 60 * y / (400 * 2) * 800) < 0.02 * 60 * std::max(std::abs(y), 0.1));
  }
}
