#include "simulation/plan_excitation.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "simulation/closed_loop.h"
#include "trajectory/excitation.h"

using namespace evenbeam;

TEST_CASE("a push of A planned inside 20 um of skew and 5 mm of stroke keeps both on the stepper, friction on") {
  const auto plant = dynamics::test::full_plant();
  const auto shape = trajectory::pulses({1}, 0.05, 0.1, 1e-4);
  const std::vector<double> still(shape.size(), 0.0);
  const simulation::ExcitationLimits limits{500, 500, 20e-6, 5e-3, 0.1, 0.8};
  const auto plan = simulation::plan_excitation(plant, {}, 1e-4, shape, still, limits);
  CHECK(plan.bound_by == "skew");
  CHECK(plan.skew_m == base::test::near(16e-6));
  CHECK(plan.stroke_m < 5e-3);
  auto quiet = plant;
  quiet.stress_free_skew_m = 0;
  for (bool friction : {false, true}) {
    auto p = quiet;
    if (!friction) p.a.coulomb_n = p.b.coulomb_n = 0;
    const auto model = simulation::prepare({p, {}, 5e-5}, 1e-4);
    auto state = simulation::standing(model, 0, 0, 1);
    double skew = 0;
    for (double value : shape) {
      simulation::advance(model, state, {plan.level * value, 0});
      skew = std::max(skew, std::abs(state.x[0] - state.x[1]));
    }
    CHECK(skew < 20e-6);
    if (!friction) CHECK(skew > 15e-6);
  }
}

TEST_CASE("under loops the level grows; without any limit no level is promised") {
  const auto plant = dynamics::test::full_plant();
  machine::Settings s;
  s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 2000;
  s.mean = {10, 12000, 0.2, 1500, {}}, s.skew = {12, 2400, 0.2, 1500, {}};
  const auto one = trajectory::multisine({1, 2, 300, 1, 1, 3, 1}, 1e-4).one_repeat_n;
  const std::vector<double> still(one.size(), 0.0);
  simulation::ExcitationLimits limits;
  limits.stroke_m = 1e-3;
  const auto open = simulation::plan_excitation(plant, {}, 1e-4, one, still, limits);
  const auto closed = simulation::plan_excitation(plant, s, 1e-4, one, still, limits);
  CHECK(closed.level > open.level);
  const auto none = simulation::plan_excitation(plant, s, 1e-4, one, still, {});
  CHECK(none.level == 0);
  CHECK(none.bound_by == "nothing");
}

TEST_CASE(
    "between samples a place may go on by half a period at its top speed: two periods of a free mass, by hand") {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 200, p.fixed_inertia_kg_m2 = 95, p.yaw_stiffness_n_m_per_rad = 4e5;
  // 1 N a side on 200 kg for one period T: then v = 2 T/200 and the place v T/2 + v T after the next.
  const double period = 0.01, v = 2 * period / 200, place = 1.5 * v * period;
  simulation::ExcitationLimits limits;
  limits.stroke_m = 1e-3, limits.use = 1;
  const auto plan = simulation::plan_excitation(p, {}, period, {1, 0, 0}, {1, 0, 0}, limits);
  CHECK(plan.bound_by == "stroke");
  CHECK(plan.level == base::test::near(1e-3 / (place + period * v / 2)));
}
