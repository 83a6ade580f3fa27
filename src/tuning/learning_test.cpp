#include "tuning/learning.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"
#include "tuning/joint_doubt.h"

namespace evenbeam::tuning {
namespace {

// A response that is the same at every line, 2 um/N: what is added now is answered now.
LearningFilter flat(double keep, double doubt_m_per_n) {
  LearningFilter f{.found = true, .period_s = 1e-3, .length = 16};
  f.response.assign(9, 2e-6), f.step.assign(9, 0.8 / 2e-6);
  f.doubt.assign(9, doubt_m_per_n), f.keep.assign(9, keep);
  return f;
}

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 80, p.carriage_mass_kg = 60;
  p.a.motor_mass_kg = p.b.motor_mass_kg = 30;
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e3;
  p.a.coulomb_n = 40, p.b.coulomb_n = 70, p.delay_s = 5e-4;
  return p;
}

machine::Settings loops() {
  machine::Settings s;
  s.period_s = 1e-3, s.mass_ff_kg = 280, s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.mean = {.position_gain_per_s = 15, .velocity_gain_n_s_per_m = 15000, .velocity_integral_s = 0.1};
  s.skew = {.position_gain_per_s = 15, .velocity_gain_n_s_per_m = 2500, .velocity_integral_s = 0.1};
  return s;
}

}  // namespace

// 10 um of error in one sample ask for 0.8 times 5 N less; 2 um are then left. A doubt of 0.1 um/N on every line of
// an impulse's flat spectrum may add 4 N times that.
TEST_CASE("one trial by hand: four fifths of the error are taken back, and the bound counts doubt and what is new") {
  const std::vector<double> error{0, 0, 10e-6, 0, 0, 0, 0, 0}, none(8, 0.0);
  const NextTrial next = next_trial(flat(1, 0), error, none, 0);
  REQUIRE(next.force_n.size() == 8);
  for (std::size_t k = 0; k < 8; ++k) CHECK(std::abs(next.force_n[k] - (k == 2 ? -4 : 0)) < 1e-9);
  CHECK(next.bound_m == base::test::near(2e-6));
  CHECK(next_trial(flat(1, 1e-7), error, none, 3e-7).bound_m == base::test::near(2e-6 + 4e-7 + 3e-7));
  // From a force of 6 N that is kept: 2 N remain after it. Where nothing is kept it goes, and 10 - 12 um come.
  const std::vector<double> force{0, 0, 6, 0, 0, 0, 0, 0};
  CHECK(next_trial(flat(1, 0), error, force, 0).force_n[2] == base::test::near(2));
  const NextTrial dropped = next_trial(flat(0, 0), error, force, 0);
  CHECK(std::abs(dropped.force_n[2]) < 1e-12);
  CHECK(dropped.bound_m == base::test::near(2e-6));
}

// The law that the filter promises, line by line, for plants drawn on the surface of all that is doubted: what is
// left of an error after a trial, |Q (1 - L P)|, is at most the contraction told; and |P - P^| at most the doubt
// told.
TEST_CASE("for plants of the fit's whole doubt no line's error shrinks by less than is told") {
  using namespace identification;
  Identified id;
  id.plant = plant(), id.plant_known = true, id.scale.common.value = 1, id.motion.mass_kg.value = 280;
  id.motion.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  const auto sd = [&](Unknown j, double v) { id.motion.covariance(j, j) = v * v; };
  sd(kMass0, 6), sd(kInertia0, 1.2), sd(kStiffness, 2e4), sd(kDamping, 60), sd(kMoment0, 2);
  const Case where{0.3, 0};
  constexpr std::size_t kSamples = 1501;
  const LearningFilter f = learning_filter(id, loops(), where, kSamples);
  REQUIRE(f.found);
  CHECK(f.contraction < 1);
  CHECK(f.top_hz > 5);
  CHECK(f.length == 2 * (kSamples + 1));  // even, and no shorter than twice the move
  const JointDoubt doubt = joint_doubt(id);
  math::Random random(99);
  double most_doubt = 0;
  for (int draw = 0; draw < 25; ++draw) {
    id.plant = plant_at(plant(), doubt, drawn_direction(doubt, 1, true, random));
    id.motion.covariance.resize(0, 0);
    const LearningFilter other = learning_filter(id, loops(), where, kSamples);  // its response is this plant's
    for (std::size_t k = 1; k < f.response.size(); ++k) {
      const double off = std::abs(other.response[k] - f.response[k]);
      REQUIRE(off <= f.doubt[k] * (1 + 1e-9) + 1e-18);
      const double left = f.keep[k] * std::abs(1.0 - f.step[k] * other.response[k]);
      REQUIRE(left <= f.contraction + 1e-9);
      most_doubt = std::max(most_doubt, f.doubt[k] > 0 ? off / f.doubt[k] : 0);
    }
  }
  CHECK(most_doubt > 0.5);  // the surface is reached in one direction at a time
  // By the triangle: 1 - L P with P anywhere within the doubt, L P^ real between 0 and 1.
  double told = 0;
  for (std::size_t k = 0; k < f.response.size(); ++k) {
    CHECK(std::abs((f.step[k] * f.response[k]).imag()) < 1e-12);
    const double taken = (f.step[k] * f.response[k]).real();
    CHECK(taken >= 0);
    CHECK(taken <= 0.8);
    told = std::max(told, f.keep[k] * (1 - taken + std::abs(f.step[k]) * f.doubt[k]));
  }
  CHECK(f.contraction == base::test::near(told).epsilon(1e-9));
}

// Without friction all repeats and nothing bends: the bound holds, but for the force that was to come before the
// file's start or after its end and is not given: a hundredth of the first trial's skew.
TEST_CASE("a repeated move learns: after four trials less than a third of its skew is left, each below its bound") {
  identification::Identified id;
  id.plant = plant(), id.plant_known = true;
  id.plant.a.coulomb_n = id.plant.b.coulomb_n = 0;
  ForecastMove move{.name = "move", .carriage_y_m = 0.3};
  move.reference = simulation::track({trajectory::plan_move(0, 0.2, {0.8, 6, 200})}, 0.4, 1e-3);
  const std::vector<Trial> trials = rehearse_learning(move, id.plant, id, loops(), 5, {});
  REQUIRE(trials.size() == 5);
  CHECK(trials[4].peak_skew_m < trials[0].peak_skew_m / 3);
  for (std::size_t k = 1; k < trials.size(); ++k)
    CHECK(trials[k].peak_skew_m < trials[k].bound_m + 0.015 * trials[0].peak_skew_m);
}

}  // namespace evenbeam::tuning
