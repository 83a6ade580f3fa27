#include "servo/loop_law.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "base/near_test.h"
#include "servo/law_response.h"
#include "servo/side_gains.h"
#include "servo/structures.h"

using namespace evenbeam;

namespace {

machine::Settings sample_settings() {
  machine::Settings s;
  s.period_s = 2e-4, s.share = 0.46, s.mass_ff_kg = 300, s.skew_ff_kg = 70;
  s.viscous_ff_a_n_s_per_m = 100, s.viscous_ff_b_n_s_per_m = 140;
  s.peak_force_a_n = s.peak_force_b_n = 1e9;
  s.mean = {40, 30000, 0.05, 1200, {{80, 0.1, 0.6}, {310, 0.3, 0.7}}};
  s.skew = {55, 8000, 0.03, 700, {{140, 0.05, 0.5}}};
  return s;
}

}  // namespace

TEST_CASE("state-space form gives the step's forces, sample by sample") {
  const auto law = servo::prepare(sample_settings());
  const auto space = servo::state_space(law);
  auto state = servo::fresh_state();
  Eigen::VectorXd x = Eigen::VectorXd::Zero(space.a.rows());
  std::mt19937_64 draw(3);
  std::normal_distribution<double> normal(0, 1e-3);
  double worst = 0, largest = 0;
  for (int k = 0; k < 400; ++k) {
    // The first position is 0, where the state space starts too.
    const double a = k ? normal(draw) : 0, b = k ? normal(draw) : 0;
    const servo::Reference r{normal(draw), normal(draw), normal(draw), normal(draw), normal(draw), normal(draw)};
    const auto f = servo::step(law, state, r, a, b);
    Eigen::VectorXd u(servo::law_inputs);
    u << a, b, r.mean_m, r.mean_m_per_s, r.mean_m_per_s2, r.skew_m, r.skew_m_per_s, r.skew_m_per_s2;
    const Eigen::Vector2d y = space.c * x + space.d * u;
    x = space.a * x + space.b * u;
    worst = std::max({worst, std::abs(f.a_n - y(0)), std::abs(f.b_n - y(1))});
    largest = std::max(largest, std::abs(f.a_n));
  }
  CHECK(largest > 1);
  CHECK(worst < 1e-11 * largest);
}

TEST_CASE("frequency response by formula and by state space agree") {
  const auto law = servo::prepare(sample_settings());
  const auto space = servo::state_space(law);
  for (double hz : {0.3, 5.0, 60.0, 140.0, 900.0, 2400.0}) {
    const double w = 2 * M_PI * hz;
    const auto c = servo::response(law, w);
    const auto g = math::response(space, w);
    const double scale = std::abs(c.aa) + std::abs(c.bb);
    CAPTURE(hz);
    CHECK(std::abs(g(0, 0) + c.aa) < 1e-9 * scale);
    CHECK(std::abs(g(0, 1) + c.ab) < 1e-9 * scale);
    CHECK(std::abs(g(1, 0) + c.ba) < 1e-9 * scale);
    CHECK(std::abs(g(1, 1) + c.bb) < 1e-9 * scale);
  }
}

TEST_CASE("a clipped side holds the integrals that push it further, and lets go the others") {
  auto s = sample_settings();
  s.peak_force_a_n = s.peak_force_b_n = 100;
  s.share = 0.5;
  const auto law = servo::prepare(s);
  auto state = servo::fresh_state();
  servo::step(law, state, {.mean_m = 1}, 0, 0);  // both far above the clip
  CHECK(state.clip_a == 1);
  CHECK(state.clip_b == 1);
  const double mean = state.mean.integral_m_per_s;
  servo::step(law, state, {.mean_m = 1, .skew_m = 1e-6}, 0, 0);
  CHECK(state.mean.integral_m_per_s == mean);  // held: a positive w raises both
  CHECK(state.skew.integral_m_per_s == 0);     // held: raises A, which is clipped from above
  servo::step(law, state, {.mean_m = -1e-3}, 0, 0);
  CHECK(state.mean.integral_m_per_s < mean);  // w < 0 leads out of the clip
}

TEST_CASE("swapping the sides mirrors the forces") {
  std::mt19937_64 draw(5);
  std::normal_distribution<double> normal(0, 1e-4);
  auto s = sample_settings();
  s.coulomb_ff_a_n = 30, s.coulomb_ff_b_n = 50, s.offset_a_n = 3, s.peak_force_a_n = 700, s.peak_force_b_n = 500;
  auto m = s;
  m.share = 1 - s.share;
  std::swap(m.coulomb_ff_a_n, m.coulomb_ff_b_n), std::swap(m.offset_a_n, m.offset_b_n);
  std::swap(m.viscous_ff_a_n_s_per_m, m.viscous_ff_b_n_s_per_m), std::swap(m.peak_force_a_n, m.peak_force_b_n);
  const auto law = servo::prepare(s), mirrored = servo::prepare(m);
  servo::LoopState p, q;
  for (int k = 0; k < 2000; ++k) {
    const double a = normal(draw), b = normal(draw);
    const servo::Reference r{normal(draw), normal(draw), 0.2, normal(draw), normal(draw), 0.1};
    const servo::Reference mr{r.mean_m,  r.mean_m_per_s,  r.mean_m_per_s2,
                              -r.skew_m, -r.skew_m_per_s, -r.skew_m_per_s2};
    const auto f = servo::step(law, p, r, a, b), g = servo::step(mirrored, q, mr, b, a);
    REQUIRE(f.a_n == base::test::near(g.b_n).epsilon(1e-9));
    REQUIRE(f.b_n == base::test::near(g.a_n).epsilon(1e-9));
  }
}

TEST_CASE("all broken settings are named in one error") {
  auto s = sample_settings();
  s.period_s = 0, s.share = 1.2, s.mean.position_gain_per_s = -1, s.coulomb_ramp_m_per_s = 0;
  s.offset_a_n = std::numeric_limits<double>::quiet_NaN(), s.skew.filters = {{140, 0.1, 0}};
  try {
    servo::prepare(s);
    FAIL("accepted");
  } catch (const base::InputError& error) {
    CHECK(error.troubles().size() == 6);
  }
}

TEST_CASE("side gains: exact where the coordinates share one law, independent only at the special point") {
  auto s = sample_settings();
  s.mean = {30, 24000, 0.05, 1000, {{90, 0.1, 0.6}}};
  s.skew = s.mean;
  s.skew.velocity_gain_n_s_per_m = 6000;
  s.share = 0.5;
  auto g = servo::side_gains(s);
  CHECK(g.exact_with_cross);
  CHECK(g.exact_independent);
  CHECK(g.aa == base::test::near(12000));
  CHECK(std::abs(g.ab) < 1e-12 * std::abs(g.aa));
  CHECK(g.loss_independent < 1e-12);
  s.share = 0.45;
  g = servo::side_gains(s);
  CHECK(g.exact_with_cross);
  CHECK_FALSE(g.exact_independent);
  CHECK(g.loss_with_cross < 1e-12);
  CHECK(g.loss_independent > 0.01);
  s.skew.position_gain_per_s = 60;
  g = servo::side_gains(s);
  CHECK_FALSE(g.exact_with_cross);
  CHECK(g.loss_with_cross > 0.01);
}

TEST_CASE("independent sides equal the mean/skew law at the special point, and not elsewhere") {
  auto s = sample_settings();
  s.share = 0.5, s.skew_ff_kg = 0;
  s.skew = s.mean;
  s.skew.velocity_gain_n_s_per_m = s.mean.velocity_gain_n_s_per_m / 4;
  const auto difference = [](const machine::Settings& settings) {
    const auto law = servo::prepare(settings);
    const auto sides = servo::prepare(servo::independent_from(settings));
    servo::LoopState p;
    servo::StructureState q;
    std::mt19937_64 draw(17);
    std::normal_distribution<double> normal(0, 1e-4);
    double worst = 0;
    for (int k = 0; k < 500; ++k) {
      const servo::Reference r{normal(draw), normal(draw), normal(draw), normal(draw), normal(draw), 0};
      const double a = normal(draw), b = normal(draw);
      const auto f = servo::step(law, p, r, a, b), g = servo::step(sides, q, r, a, b);
      worst = std::max({worst, std::abs(f.a_n - g.a_n), std::abs(f.b_n - g.b_n)});
    }
    return worst;
  };
  CHECK(difference(s) < 1e-6);
  s.skew.velocity_gain_n_s_per_m *= 1.1;
  CHECK(difference(s) > 1);
}

TEST_CASE("the follower's B asks for A's measured place; cross-coupling acts on skew alone, opposed") {
  auto common = sample_settings();
  common.mass_ff_kg = 0, common.viscous_ff_a_n_s_per_m = common.viscous_ff_b_n_s_per_m = 0;
  const machine::CoordinateLoop side{30, 10000, 0, 0, {}};
  auto law = servo::prepare(servo::StructureSettings{servo::Structure::follower, common, side, side});
  servo::StructureState state;
  auto f = servo::step(law, state, {.mean_m = 0.5}, 0.001, 0.001);
  CHECK(f.a_n == base::test::near(10000 * 30 * 0.499));
  CHECK(std::abs(f.b_n) < 1e-9);
  common.skew.filters.clear(), common.skew.velocity_integral_s = 0;
  law = servo::prepare(servo::StructureSettings{servo::Structure::cross_coupled, common, side, side});
  state = {};
  f = servo::step(law, state, {}, 1e-4, -1e-4);
  const double coupling = -8000 * 55 * 2e-4;
  CHECK(f.a_n == base::test::near(-10000 * 30 * 1e-4 + coupling));
  CHECK(f.b_n == base::test::near(10000 * 30 * 1e-4 - coupling));
}
