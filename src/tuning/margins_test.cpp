#include "tuning/margins.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"
#include "servo/law_response.h"
#include "simulation/linear_loop.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

machine::Settings firm() {
  machine::Settings s{.period_s = 1e-4, .share = 0.45, .peak_force_a_n = 2000, .peak_force_b_n = 2000};
  s.mean = {20, 20000, 0.1, 800, {}};
  s.skew = {20, 4000, 0.1, 800, {}};
  return s;
}

bool stable_with(const dynamics::Plant& plant, double factor_a, double factor_b) {
  dynamics::Plant p = plant;
  p.a.force_scale *= factor_a, p.b.force_scale *= factor_b;
  return simulation::stability(p, firm()).stable;
}

}  // namespace

TEST_CASE("margins put back into the exact closed loop: inside it is stable, just beyond a side's gain it is not") {
  const dynamics::Plant plant = dynamics::test::full_plant();
  const Margins m = margins(plant, firm());
  REQUIRE(std::isfinite(m.a.gain_up));
  REQUIRE(std::isfinite(m.b.gain_up));
  CHECK(stable_with(plant, 0.97 * m.a.gain_up, 1));
  CHECK_FALSE(stable_with(plant, 1.03 * m.a.gain_up, 1));
  CHECK(stable_with(plant, 1, 0.97 * m.b.gain_up));
  CHECK_FALSE(stable_with(plant, 1, 1.03 * m.b.gain_up));
  const math::DiskRange both = math::disk_range(m.both);
  for (double a : {both.gain_low, 1.0, both.gain_high})
    for (double b : {both.gain_low, 1.0, both.gain_high}) CHECK(stable_with(plant, a, b));
  // both at once can't be had more freely than one alone
  CHECK(m.both <= m.a.disk + 1e-9);
  CHECK(m.both <= m.b.disk + 1e-9);
}

TEST_CASE("one side dropping: the factor found is where exact eigenvalues leave the circle") {
  const dynamics::Plant plant = dynamics::test::full_plant();
  for (bool a : {true, false}) {
    const double least = least_stable_factor(plant, firm(), a);
    CAPTURE(a);
    CAPTURE(least);
    REQUIRE(std::isfinite(least));
    if (least > 0) CHECK_FALSE(stable_with(plant, a ? least / 1.02 : 1, a ? 1 : least / 1.02));
    CHECK(stable_with(plant, a ? std::max(least, 0.011) : 1, a ? 1 : std::max(least, 0.011)));
  }
  machine::Settings wild = firm();
  wild.skew.velocity_gain_n_s_per_m *= 100;
  CHECK(std::isnan(least_stable_factor(plant, wild, true)));
}

TEST_CASE("coupling matters: each side looked at alone, without the other, passes loops that are unstable together") {
  dynamics::Plant plant = dynamics::test::full_plant();
  plant.carriage_y_m = 0.85;
  plant.payload_kg = 60;
  machine::Settings s = firm();
  double shortcut = 0;  // peak of 1/|1 + g_kk c_kk| over both sides
  const auto look = [&] {
    shortcut = 0;
    const servo::LoopLaw law = servo::prepare(s);
    for (double hz = 1; hz < 4900; hz *= 1.01) {
      const double w = 2 * std::numbers::pi * hz;
      const auto g = dynamics::response(dynamics::response_model(plant, s.period_s), w);
      const auto c = servo::response(law, w);
      shortcut = std::max({shortcut, 1 / std::abs(1.0 + g.aa * c.aa), 1 / std::abs(1.0 + g.bb * c.bb)});
    }
  };
  // Gains raised until the whole loop is unstable: a shortcut that were right would have grown past every bound.
  while (simulation::stability(plant, s).stable) s.skew.velocity_gain_n_s_per_m *= 1.1;
  look();
  s.skew.velocity_gain_n_s_per_m /= 1.1;
  const double whole = peak_sensitivity(plant, s).peak;
  CAPTURE(shortcut);
  CAPTURE(whole);
  CHECK(whole > 2 * shortcut);
}

}  // namespace evenbeam::tuning
