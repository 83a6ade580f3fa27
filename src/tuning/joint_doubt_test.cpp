#include "tuning/joint_doubt.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"

namespace evenbeam::tuning {
namespace {

// A fit whose response tells every number to a hundredth, all independent.
identification::Identified fitted() {
  identification::Identified id;
  id.plant = dynamics::test::full_plant();
  id.plant.carriage_stiffness_n_per_m = 0;
  id.grey.plant = id.plant;
  id.grey.done = true;
  id.grey.parameters.resize(identification::kGreyCount);
  id.grey.covariance = 1e-4 * Eigen::MatrixXd::Identity(identification::kGreyCount, identification::kGreyCount);
  id.motion.carriage_mass_kg.sd = 0.5;
  id.motion.viscous_a_n_s_per_m.sd = id.motion.viscous_b_n_s_per_m.sd = 1;
  id.response_carriage_y_m = 0.3;
  id.scale.common.value = 1;
  return id;
}

}  // namespace

TEST_CASE("drawn plants spread as the fit's own numbers do, and the whole moves less than its parts") {
  const auto id = fitted();
  const JointDoubt doubt = joint_doubt(id);
  CHECK(doubt.directions == identification::kGreyCount + 3);
  math::Random random(4);
  constexpr int kDraws = 4000;
  double hz = 0, mass = 0, ratio = 0, carriage = 0, whole = 0;
  for (int k = 0; k < kDraws; ++k) {
    Eigen::VectorXd c(doubt.directions);
    for (double& x : c) x = random.normal();
    const dynamics::Plant p = plant_at(id.plant, doubt, c);
    hz += std::pow(std::log(p.bending_hz / id.plant.bending_hz), 2);
    mass += std::pow(std::log(p.bending_mass_kg / id.plant.bending_mass_kg), 2);
    ratio += std::pow(std::log(p.bending_damping / id.plant.bending_damping), 2);
    carriage += std::pow(p.carriage_mass_kg - id.plant.carriage_mass_kg, 2);
    whole += std::pow(p.carriage_mass_kg + p.fixed_mass_kg - id.plant.carriage_mass_kg - id.plant.fixed_mass_kg, 2);
    CHECK(p.b.force_scale - id.plant.b.force_scale == base::test::near(id.plant.a.force_scale - p.a.force_scale));
  }
  const auto sd = [](double squares) { return std::sqrt(squares / kDraws); };
  CHECK(sd(hz) == base::test::near(0.01).epsilon(0.05));
  CHECK(sd(mass) == base::test::near(0.01).epsilon(0.08));
  CHECK(sd(ratio) == base::test::near(0.01).epsilon(0.08));
  CHECK(sd(carriage) == base::test::near(0.5).epsilon(0.05));
  CHECK(sd(whole) == base::test::near(0.01 * id.plant.fixed_mass_kg).epsilon(0.05));
}

TEST_CASE("95 % ellipsoid: as many of normal draws lie inside; draws on its surface and inside keep to it") {
  const JointDoubt doubt = joint_doubt(fitted());
  math::Random random(5);
  int inside = 0;
  constexpr int kDraws = 4000;
  for (int k = 0; k < kDraws; ++k) {
    Eigen::VectorXd c(doubt.directions);
    for (double& x : c) x = random.normal();
    inside += c.norm() <= doubt.radius;
  }
  CHECK(inside == base::test::near(0.95 * kDraws).epsilon(0.015));
  CHECK(drawn_direction(doubt, 0.5, true, random).norm() == base::test::near(0.5 * doubt.radius));
  CHECK(drawn_direction(doubt, 0.5, false, random).norm() <= 0.5 * doubt.radius);
}

TEST_CASE("a number known badly stays positive, and one known well is linear") {
  auto id = fitted();
  id.grey.covariance(identification::kGreyDampingA, identification::kGreyDampingA) = 0.25;
  const JointDoubt doubt = joint_doubt(id);
  math::Random random(6);
  for (const DoubtfulPart& p : doubt.parts)
    if (p.part == Part::damping_a)
      CHECK(p.scale == DoubtfulPart::Scale::logarithm);
    else if (p.part == Part::yaw_stiffness)
      CHECK(p.scale == DoubtfulPart::Scale::linear);
  for (int k = 0; k < 200; ++k)
    CHECK(plant_at(id.plant, doubt, drawn_direction(doubt, 1, true, random)).a.drive_damping_n_s_per_m > 0);

  id.plant.a.viscous_n_s_per_m = 0;  // fitted at its bound
  id.motion.viscous_a_n_s_per_m = {.value = 0, .sd = 3};
  const JointDoubt at_bound = joint_doubt(id);
  double most = 0;
  for (int k = 0; k < 200; ++k) {
    const dynamics::Plant p = plant_at(id.plant, at_bound, drawn_direction(at_bound, 1, true, random));
    CHECK(p.a.viscous_n_s_per_m >= 0);
    most = std::max(most, p.a.viscous_n_s_per_m);
  }
  CHECK(most > 1);
}

// 0.3 ms +- 0.8 ms, as captures without a response tell a lag: exp of 2.7 times the radius would be minutes.
TEST_CASE("a lag known to several times itself goes as far up as a straight line, and stays positive") {
  using namespace identification;
  Identified id;
  id.plant = dynamics::test::full_plant();
  id.plant.delay_s = 3e-4;
  id.motion.mass_kg.value = 100, id.scale.common.value = 1;
  id.motion.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  id.motion.covariance(kLagMass, kLagMass) = std::pow(100 * 8e-4, 2);
  const JointDoubt doubt = joint_doubt(id);
  REQUIRE(doubt.parts.size() == 1);
  REQUIRE(doubt.directions == 1);
  const Eigen::VectorXd up = Eigen::VectorXd::Constant(1, doubt.radius * (doubt.parts[0].along[0] > 0 ? 1 : -1));
  CHECK(plant_at(id.plant, doubt, up).delay_s == base::test::near(3e-4 + doubt.radius * 8e-4));
  CHECK(plant_at(id.plant, doubt, -up).delay_s > 0);
  CHECK(plant_at(id.plant, doubt, -up).delay_s < 3e-4);
}

TEST_CASE("plants drawn: friction of both sides has the covariance of the motion fit, Coulomb against viscous") {
  using namespace identification;
  Identified id;
  id.plant = dynamics::test::full_plant();
  id.plant.a.coulomb_n = 60, id.plant.b.coulomb_n = 80;
  id.plant.a.viscous_n_s_per_m = id.plant.b.viscous_n_s_per_m = 200;
  id.plant_known = true;
  id.motion.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  id.motion.mass_kg.value = 1, id.scale.common.value = 1;
  const auto set = [&](int i, int j, double v) { id.motion.covariance(i, j) = id.motion.covariance(j, i) = v; };
  set(kCoulombA, kCoulombA, 4), set(kViscousA, kViscousA, 100), set(kCoulombA, kViscousA, -18);
  set(kCoulombB, kCoulombB, 1), set(kCoulombA, kCoulombB, 0.5);
  const PlantDraws draws(id);
  math::Random random(3);
  constexpr int kCount = 4000;
  double aa = 0, vv = 0, av = 0, ab = 0;
  for (int k = 0; k < kCount; ++k) {
    const dynamics::Plant p = draws.draw(random);
    const double a = p.a.coulomb_n - 60, v = p.a.viscous_n_s_per_m - 200, b = p.b.coulomb_n - 80;
    aa += a * a / kCount, vv += v * v / kCount, av += a * v / kCount, ab += a * b / kCount;
    CHECK(p.b.viscous_n_s_per_m == 200);
  }
  CHECK(aa == base::test::near(4).epsilon(0.1));
  CHECK(vv == base::test::near(100).epsilon(0.1));
  CHECK(av == base::test::near(-18).epsilon(0.1));
  CHECK(ab == base::test::near(0.5).epsilon(0.25));
}

}  // namespace evenbeam::tuning
