#include "tuning/proposal.h"

#include <doctest/doctest.h>

#include <cstdio>
#include <string>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "simulation/linear_loop.h"

namespace evenbeam::tuning {
namespace {

machine::Machine sample_machine() {
  machine::Machine m;
  m.span_m = 1.8, m.servo_period_s = 1e-4;
  m.a.peak_force_n = 2000, m.b.peak_force_n = 2600;
  m.payload_min_kg = 0, m.payload_max_kg = 20;
  return m;
}

identification::Identified sample_fit() {
  identification::Identified id;
  id.plant = dynamics::test::full_plant();
  id.plant_known = true;
  return id;
}

struct Worst {
  double peak = 0;
  Case where;
  bool stable = true;
};
// The slow way: every case by itself.
Worst by_case(const dynamics::Plant& fitted, const machine::Machine& m, const Proposal& p,
              const machine::Settings& settings) {
  Worst out;
  for (const Case& c : tuning_cases(m, 0)) {
    const dynamics::Plant plant = at_case(fitted, c);
    const machine::Settings here = at_place(p, settings, c.carriage_y_m);
    out.stable = out.stable && simulation::stability(plant, here).stable;
    const double peak = peak_sensitivity(plant, here).peak;
    if (peak > out.peak) out.peak = peak, out.where = c;
  }
  return out;
}

}  // namespace

TEST_CASE("a promise nobody can keep: no settings, and the nearest is what it is said to be") {
  const machine::Machine m = sample_machine();
  const Proposal no = propose(sample_fit(), m, {.promised_sensitivity = 1.0001, .search = false});
  CHECK_FALSE(no.found);
  REQUIRE(no.nearest.has_value());
  CAPTURE(no.reason);
  const Worst worst = by_case(sample_fit().plant, m, no, no.nearest->settings);
  CHECK(worst.stable);
  CHECK(no.nearest->worst.peak == base::test::near(worst.peak).epsilon(1e-9));
  CHECK(no.nearest->worst.peak > 1.0001);
  // A promise of just that is met by what the rule finds.
  const Proposal yes =
      propose(sample_fit(), m, {.promised_sensitivity = 1.001 * no.nearest->worst.peak, .search = false});
  CAPTURE(yes.reason);
  CHECK(yes.found);
  CHECK(no.reason.find("the nearest") != std::string::npos);
}

TEST_CASE("a fast controller on soft drives: no stretch of its own lags holds, slower loops do") {
  const machine::Machine m = sample_machine();
  identification::Identified id = sample_fit();
  for (dynamics::PlantSide* side : {&id.plant.a, &id.plant.b}) {
    side->drive_stiffness_n_per_m = 3e6, side->drive_damping_n_s_per_m = 300;
  }
  const Proposal p = propose(id, m, {.search = false});
  CAPTURE(p.reason);
  REQUIRE(p.found);
  CHECK(p.lag_factor > 1);
  for (double gain : {1.0, least_gain, most_gain}) {
    machine::Settings s = p.settings;
    s.mean.velocity_gain_n_s_per_m *= gain, s.skew.velocity_gain_n_s_per_m *= gain;
    const Worst worst = by_case(id.plant, m, p, s);
    CAPTURE(gain);
    CHECK(worst.stable);
    if (gain == 1) CHECK(worst.peak <= 1.6 * (1 + 1e-9));
  }
}

TEST_CASE(
    "friction fed forward is the fit's in real newtons, though one drive gives more than asked and the other less") {
  identification::Identified id = sample_fit();
  id.plant.a.force_scale = 1.15, id.plant.b.force_scale = 0.9;
  id.plant.a.coulomb_n = 40, id.plant.b.coulomb_n = 70;
  id.plant.a.viscous_n_s_per_m = 100, id.plant.b.viscous_n_s_per_m = 60;
  const Proposal p = propose(id, sample_machine(), {.search = false});
  CAPTURE(p.reason);
  REQUIRE(p.found);
  CHECK(1.15 * p.settings.coulomb_ff_a_n == base::test::near(40));
  CHECK(0.9 * p.settings.coulomb_ff_b_n == base::test::near(70));
  CHECK(1.15 * p.settings.viscous_ff_a_n_s_per_m == base::test::near(100));
  CHECK(0.9 * p.settings.viscous_ff_b_n_s_per_m == base::test::near(60));
}

TEST_CASE("what binds the gains is the worst of all cases, with its place and payload") {
  const machine::Machine m = sample_machine();
  const Proposal p = propose(sample_fit(), m, {.search = false});
  REQUIRE(p.found);
  const Worst worst = by_case(sample_fit().plant, m, p, p.settings);
  CHECK(p.worst.peak == base::test::near(worst.peak).epsilon(1e-9));
  CAPTURE(p.binding);
  char where[64];
  std::snprintf(where, sizeof where, "carriage at %.2f m with %.3g kg", worst.where.carriage_y_m,
                worst.where.payload_kg);
  CHECK(p.binding.find(where) != std::string::npos);
}

}  // namespace evenbeam::tuning
