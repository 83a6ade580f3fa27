#include "tuning/skew_doubt.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

identification::Identified fitted() {
  identification::Identified id;
  id.plant = dynamics::test::rigid_plant();
  id.plant_known = true, id.scale.common.value = 1, id.motion.mass_kg.value = 400;
  id.motion.coulomb_a_n.sd = 2, id.motion.coulomb_b_n.sd = 1;
  return id;
}

}  // namespace

// Frictions alone: at the first entry 2 um and 2 um, at the second 6 um and -1 um, each on its own: sqrt(37) um, of
// which A's is 36/37.
TEST_CASE("a doubt of two frictions by hand: the worst instant, its size and what each makes of it") {
  const DoubtSlopes slopes{.parts = {Part::coulomb_a, Part::coulomb_b},
                           .slope = {{1e-6, 3e-6}, {2e-6, -1e-6}},
                           .step_s = 0.01,
                           .carriage_y_m = 0.3,
                           .payload_kg = 4};
  const DoubtSize size = doubt_size(slopes, fitted());
  CHECK(size.half_width == base::test::near(1.959964 * std::sqrt(37.0) * 1e-6));
  CHECK(size.at_s == base::test::near(0.01));
  CHECK(size.carriage_y_m == 0.3);
  CHECK(size.payload_kg == 4);
  REQUIRE(size.causes.size() == 2);
  CHECK(size.causes[0].part == Part::coulomb_a);
  CHECK(size.causes[0].of_variance == base::test::near(36.0 / 37));
  CHECK(size.causes[1].of_variance == base::test::near(1.0 / 37));
  DoubtSlopes more = slopes;
  more.slope[1][0] = 9e-6, more.payload_kg = 7;
  const DoubtSize worst = worst_doubt({slopes, more}, fitted());
  CHECK(worst.payload_kg == 7);
  CHECK(worst.at_s == 0);
  CHECK(worst.half_width == base::test::near(1.959964 * std::sqrt(4.0 + 81) * 1e-6));
}

// Numbers that err together: s^2 = g'C g with C of both, and knowing one takes (g'C_k)^2/C_kk from it.
TEST_CASE("a doubt of numbers that err together is that of their whole covariance") {
  using namespace identification;
  Identified id = fitted();
  id.motion.coulomb_a_n.sd = id.motion.coulomb_b_n.sd = 0;
  id.motion.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  id.motion.covariance(kStiffness, kStiffness) = 4e8;  // 2e4 N/m
  id.motion.covariance(kDamping, kDamping) = 100;
  id.motion.covariance(kStiffness, kDamping) = id.motion.covariance(kDamping, kStiffness) = -1.6e5;
  const double square = 1.8 * 1.8;  // N m/rad of one N/m
  const double k = 3e-12, c = 2e-9;
  const DoubtSlopes slopes{.parts = {Part::yaw_stiffness, Part::yaw_damping}, .slope = {{k}, {c}}};
  const double variance = square * square * (k * k * 4e8 - 2 * k * c * 1.6e5 + c * c * 100);
  const DoubtSize size = doubt_size(slopes, id);
  CHECK(size.half_width == base::test::near(1.959964 * std::sqrt(variance)));
  for (const DoubtCause& cause : size.causes) {
    const bool stiff = cause.part == Part::yaw_stiffness;
    const double along = square * square * (stiff ? k * 4e8 - c * 1.6e5 : c * 100 - k * 1.6e5),
                 own = square * square * (stiff ? 4e8 : 100);
    if (stiff || cause.part == Part::yaw_damping)
      CHECK(cause.of_variance == base::test::near(along * along / own / variance));
  }
}

// What a slope says is what a step does: twice the skew slope's step of friction, run whole.
TEST_CASE("slopes of skew and of sensitivity foretell what a small change of a number does") {
  using namespace identification;
  Identified id = fitted();
  id.plant.carriage_y_m = 0.35, id.plant.payload_kg = 12;
  id.motion.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  id.motion.covariance(kStiffness, kStiffness) = 1e8;
  id.motion.covariance(kMoment0, kMoment0) = 0.04;
  machine::Settings s{.period_s = 2.5e-4, .share = 0.5, .mass_ff_kg = 400};
  s.peak_force_a_n = s.peak_force_b_n = 3000;
  s.mean = {20, 20000, 0.1, 0, {}}, s.skew = {20, 4000, 0.1, 0, {}};
  ForecastMove move{.name = "move", .carriage_y_m = 0.35, .payload_kg = 12};
  move.reference = simulation::track({trajectory::plan_move(0, 0.1, {0.5, 4, 100})}, 0.1, 2.5e-4);
  const DoubtSlopes skew = skew_slopes(id, move, s), sensitivity = sensitivity_slopes(id, 0.35, 12, s);
  CHECK(skew.step_s == 2.5e-4);
  CHECK(skew.carriage_y_m == 0.35);
  const auto run = [&](const dynamics::Plant& p) { return run_move(move, p, {.common = s}, {}); };
  const auto before = run(id.plant);
  bool asked = false;
  for (std::size_t k = 0; k < skew.parts.size(); ++k) {
    if (skew.parts[k] != Part::fixed_moment && skew.parts[k] != Part::yaw_stiffness) continue;
    asked = true;
    dynamics::Plant changed = id.plant;
    const double step = 0.004 * std::abs(value_of(changed, skew.parts[k]));
    value_of(changed, skew.parts[k]) += step;
    const auto after = run(changed);
    double off = 0, most = 0;
    for (std::size_t i = 0; i < skew.slope[k].size(); ++i) {
      const double moved =
          (after.position_a_m[i] - after.position_b_m[i]) - (before.position_a_m[i] - before.position_b_m[i]);
      off = std::max(off, std::abs(moved - step * skew.slope[k][i])), most = std::max(most, std::abs(moved));
    }
    CAPTURE(name_of(skew.parts[k]));
    REQUIRE(most > 0);
    CHECK(off < 0.03 * most);
    const double moved = peak_sensitivity(at_case(changed, {0.35, 12}), s).peak -
                         peak_sensitivity(at_case(id.plant, {0.35, 12}), s).peak;
    CHECK(std::abs(moved - step * sensitivity.slope[k][0]) < 0.05 * std::abs(moved) + 1e-9);
  }
  CHECK(asked);
}

}  // namespace evenbeam::tuning
