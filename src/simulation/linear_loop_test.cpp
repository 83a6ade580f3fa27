#include "simulation/linear_loop.h"

#include <doctest/doctest.h>

#include <cmath>

#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"
#include "servo/law_response.h"

using namespace evenbeam;

namespace {

machine::Settings soft_settings() {
  machine::Settings s;
  s.period_s = 1e-4, s.peak_force_a_n = s.peak_force_b_n = 2000;
  s.mean = {20, 16000, 0.08, 1500, {}};
  s.skew = {30, 2500, 0.06, 1200, {{190, 0.1, 0.5}}};
  return s;
}

}  // namespace

TEST_CASE("closed loop in state space = (1 + G C)^-1 G in the frequency domain") {
  const auto plant = dynamics::test::full_plant();
  const auto settings = soft_settings();
  const auto loop = simulation::closed_loop(plant, settings);
  const auto discrete = dynamics::sampled(plant, settings.period_s);
  const auto law = servo::prepare(settings);
  for (double hz : {2.0, 30.0, 240.0}) {
    const double w = 2 * M_PI * hz;
    const Eigen::MatrixXcd all = math::response(loop, w);
    const Eigen::Matrix2cd g = math::response(discrete, w);
    const auto c = servo::response(law, w);
    Eigen::Matrix2cd controller;
    controller << c.aa, c.ab, c.ba, c.bb;
    const Eigen::Matrix2cd pencil = Eigen::Matrix2cd::Identity() + g * controller;
    const Eigen::Matrix2cd difference = pencil * all.block(0, 6, 2, 2) - g;
    CAPTURE(hz);
    CHECK(difference.cwiseAbs().maxCoeff() < 1e-9 * g.cwiseAbs().maxCoeff());
  }
}

TEST_CASE("soft loops are stable, ten times the gain with more delay is not") {
  auto plant = dynamics::test::full_plant();
  auto settings = soft_settings();
  const auto calm = simulation::stability(plant, settings);
  CHECK(calm.stable);
  CHECK(calm.spectral_radius < 1);
  REQUIRE(!calm.ringing.empty());
  CHECK(calm.ringing.front().damping > 0);
  settings.mean.velocity_gain_n_s_per_m *= 20, settings.skew.velocity_gain_n_s_per_m *= 20;
  plant.delay_s = 1e-3;
  const auto wild = simulation::stability(plant, settings);
  CHECK_FALSE(wild.stable);
  CHECK(wild.ringing.front().damping < 0);
}
