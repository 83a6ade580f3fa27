// Criteria and fight budget on numbers worked by hand.
#include <doctest/doctest.h>

#include <Eigen/Core>
#include <cmath>

#include "base/near_test.h"
#include "diagnosis/causes_station.h"
#include "diagnosis/criteria.h"
#include "diagnosis/spring_fit_test.h"

namespace evenbeam::diagnosis {
namespace {

// K/L^2 = 2e6 N/m, s_free = 30 um, c_A = 60 N, c_B = 40 N, b_A = 100, b_B = 60 N s/m, e = 0.02; spreads independent.
identification::MotionFit hand_fit() {
  identification::MotionFit fit = spring_fit();
  fit.x[identification::kCoulombA] = 60;
  fit.x[identification::kCoulombB] = 40;
  fit.x[identification::kViscousA] = 100;
  fit.x[identification::kViscousB] = 60;
  fit.x[identification::kImbalance] = 0.02;
  fit.x[identification::kFixedCount] = 60;  // 2e6 N/m * 30 um
  fit.covariance(identification::kCoulombA, identification::kCoulombA) = 1;
  fit.covariance(identification::kCoulombB, identification::kCoulombB) = 1;
  fit.switch_ons = {{"one", math::with_sd(30e-6, 0)}};
  fit.viscous_a_n_s_per_m = math::with_sd(100, 1);
  fit.viscous_b_n_s_per_m = math::with_sd(60, 1);
  fit.covariance(identification::kViscousA, identification::kViscousA) = 1e-6;
  fit.coulomb_a_n = math::with_sd(60, 1);
  fit.coulomb_b_n = math::with_sd(40, 1);
  fit.force_imbalance = math::with_sd(0.02, 0.001);
  return fit;
}

// 1 s of rest, 1 s forward at 0.5 m/s, 1 s of rest; A leads by 50 um; forces constant in each.
recording::Recording hand_recording(double moving_a_n, double moving_b_n) {
  recording::Recording r;
  r.name = "hand.csv";
  r.kind = recording::RunKind::test_move;
  r.switch_on = "one";
  r.period_s = 1e-3;
  for (int i = 0; i < 3000; ++i) {
    const bool moving = i >= 1000 && i < 2000;
    const double x = 0.5 * 1e-3 * std::min(std::max(i - 1000, 0), 1000);
    r.time_s.push_back(1e-3 * i);
    r.reference_a_m.push_back(x);
    r.reference_b_m.push_back(x);
    r.position_a_m.push_back(x + 25e-6);
    r.position_b_m.push_back(x - 25e-6);
    r.force_a_n.push_back(moving ? moving_a_n : 70);
    r.force_b_n.push_back(moving ? moving_b_n : -50);
  }
  return r;
}

const FightBudget* find(const std::vector<FightBudget>& all, Phase phase) {
  for (const FightBudget& b : all)
    if (b.means.phase == phase) return &b;
  return nullptr;
}

double part(const FightBudget& b, const std::string& name) {
  for (const Part& p : b.parts)
    if (p.name == name) return p.force_n.value;
  return NAN;
}

}  // namespace

TEST_CASE("the fight is split as by hand, and its parts sum to the whole in any order") {
  const auto budgets = fight_budgets(hand_recording(110, 30), hand_fit());
  const FightBudget* standing = find(budgets, Phase::standing);
  const FightBudget* forward = find(budgets, Phase::forward);
  REQUIRE(standing != nullptr);
  REQUIRE(forward != nullptr);
  CHECK(find(budgets, Phase::backward) == nullptr);
  // at rest: whole (70 + 50)/2 = 60; spring 2e6 * 50 um - 60 = 40; force per output -0.02 * 20/2 = -0.2; rest 20.2
  CHECK(standing->means.fight_n == base::test::near(60));
  CHECK(part(*standing, "yaw spring") == base::test::near(40));
  CHECK(part(*standing, "Coulomb friction") == 0.0);
  CHECK(part(*standing, "force per output") == base::test::near(-0.2));
  CHECK(part(*standing, "rest") == base::test::near(20.2));
  // forward: whole 40; spring 40; Coulomb 10; viscous 0.5 * 40/2 = 10; per output -0.02 * 140/2 = -1.4; rest -18.6
  CHECK(part(*forward, "Coulomb friction") == base::test::near(10));
  CHECK(part(*forward, "viscous friction") == base::test::near(10));
  CHECK(part(*forward, "force per output") == base::test::near(-1.4));
  CHECK(part(*forward, "rest") == base::test::near(-18.6));
  // (c_A - c_B)/2 with 1 N each: sqrt(2)/2 N; the rest carries the same
  CHECK(forward->parts[2].force_n.sd == base::test::near(std::sqrt(0.5)));
  // and 0.8 % of 50 N that the law leaves out: sqrt(0.5 + 0.4^2) N; the spring has that alone
  CHECK(forward->parts.back().force_n.sd == base::test::near(std::sqrt(0.66)));
  CHECK(forward->parts.front().force_n.sd == base::test::near(0.4));
  for (const FightBudget& b : budgets) {
    double there = 0, back = 0;
    for (std::size_t k = 0; k < b.parts.size(); ++k) there += b.parts[k].force_n.value;
    for (std::size_t k = b.parts.size(); k-- > 0;) back += b.parts[k].force_n.value;
    CHECK(std::abs(there - b.means.fight_n) < 1e-9);
    CHECK(std::abs(there - back) < 1e-9);
  }
}

TEST_CASE("a fight that drifts within a phase widens the rest by the scatter of ten blocks' means, by hand") {
  recording::Recording r = hand_recording(110, 30);
  for (std::size_t i = 1000; i < 2000; ++i)
    r.force_a_n[i] += 0.02 * static_cast<double>(i - 1000);  // 10 N/s of fight
  const auto budgets = fight_budgets(r, hand_fit());
  const FightBudget* forward = find(budgets, Phase::forward);
  REQUIRE(forward != nullptr);
  // Means of ten blocks a step apart scatter by step sqrt(110/12), their mean by a tenth's root of that.
  const double step_n = 0.01 * std::floor(forward->means.seconds / 1e-3 / 10 + 1e-6);
  const double mean_sd_n = step_n * std::sqrt(110.0 / 12 / 10);
  CHECK(forward->means.fight_sd_n == base::test::near(mean_sd_n));
  CHECK(forward->parts.back().force_n.sd == base::test::near(std::sqrt(0.66 + mean_sd_n * mean_sd_n)));
}

TEST_CASE("skew that changes at an even rate: the rate is met whole, whatever samples are missing") {
  recording::Recording r = hand_recording(110, 30);
  for (std::size_t i = 0; i < r.time_s.size(); ++i)
    r.position_a_m[i] += 1e-6 * 1e-3 * static_cast<double>(i);  // 1 um/s
  for (std::size_t i = 1500; i < 1510; ++i) r.force_a_n[i] = NAN;
  const auto budgets = fight_budgets(r, hand_fit());
  const FightBudget* forward = find(budgets, Phase::forward);
  REQUIRE(forward != nullptr);
  CHECK(forward->means.skew_rate_m_per_s == base::test::near(1e-6).epsilon(1e-3));
}

TEST_CASE("two parts of opposite error are named as one") {
  identification::MotionFit fit = hand_fit();
  // spring and force per output at rest: g = (50 um, -10 N); sd 50 N each, correlated so that their sum is known
  fit.covariance(identification::kStiffness, identification::kStiffness) = 1e12;
  fit.covariance(identification::kImbalance, identification::kImbalance) = 25;
  fit.covariance(identification::kStiffness, identification::kImbalance) = 4.9e6;
  fit.covariance(identification::kImbalance, identification::kStiffness) = 4.9e6;
  const auto budgets = fight_budgets(hand_recording(110, 30), fit);
  const FightBudget* standing = find(budgets, Phase::standing);
  REQUIRE(standing != nullptr);
  REQUIRE(standing->inseparable.size() == 1);
  CHECK(standing->inseparable[0].first == "yaw spring");
  CHECK(standing->inseparable[0].second == "force per output");
}

TEST_CASE("unequal sides: 60 N against 40 N is 40 % of the mean, 2 % of imbalance is over 1 %") {
  identification::MotionFit fit = hand_fit();
  const auto causes = unequal_sides(fit, 0.5);
  REQUIRE(causes.size() == 3);
  CHECK(causes[0].finding.id == "unequal_friction");
  CHECK(*causes[0].finding.value == base::test::near(20));
  CHECK(*causes[0].finding.limit == base::test::near(15));
  // 100 against 60 N s/m: 40 is over 0.3 * 80 = 24; at 0.5 m/s half of it is 10 N
  CHECK(causes[1].finding.id == "unequal_viscous_friction");
  CHECK(*causes[1].finding.limit == base::test::near(24));
  CHECK(causes[1].fight_n == base::test::near(10));
  CHECK(causes[2].finding.id == "unequal_force_per_output");
  CHECK(causes[2].fight_n == base::test::near(0.02 * 50));  // of the force that friction takes in motion
  // 56 N against 44 N is 24 %; an imbalance whose interval reaches zero says nothing
  fit.coulomb_a_n = math::with_sd(56, 1), fit.coulomb_b_n = math::with_sd(44, 1);
  fit.viscous_a_n_s_per_m = math::with_sd(70, 1);
  fit.x[identification::kViscousA] = 70;  // 10 under 19.5
  fit.x[identification::kCoulombA] = 56, fit.x[identification::kCoulombB] = 44;
  fit.force_imbalance = math::with_sd(0.02, 0.02);
  CHECK(unequal_sides(fit, 0.5).empty());
  CHECK(unequal_sides({}, 0.5).empty());
}

TEST_CASE("a fight at rest counts from twice the mean friction") {
  identification::MotionFit fit = hand_fit();  // mean 50 N, limit 100 N; the recording stands at 60 N
  const auto budgets = fight_budgets(hand_recording(110, 30), fit);
  CHECK(standing_fight(budgets, fit, {}).empty());
  fit.coulomb_a_n = fit.coulomb_b_n = math::with_sd(25, 1);  // limit 50 N
  const auto causes = standing_fight(budgets, fit, {});
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].fight_n == base::test::near(60));
}

TEST_CASE("what no part holds is called unexplained from three quarters of the mean friction") {
  const identification::MotionFit fit = hand_fit();  // mean 50 N, limit 25 N; rest forward -18.6 N, interval +-1.6 N
  CHECK(unexplained(fight_budgets(hand_recording(110, 30), fit), fit).empty());
  // 50 N less on A: whole 15, per output -0.9, rest 15 - 60 + 0.9 = -44.1; limit 37.5
  const auto causes = unexplained(fight_budgets(hand_recording(60, 30), fit), fit);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(-44.1));
}

TEST_CASE("full force and late sampling are found with their span and size") {
  machine::Machine machine;
  machine.a.peak_force_n = 110;
  machine.b.peak_force_n = 200;
  recording::Recording r = hand_recording(110, 30);
  const auto full = saturation(r, machine);
  REQUIRE(full.size() == 1);
  CHECK(*full[0].finding.value == base::test::near(1.0 / 3));
  CHECK(*full[0].finding.from_s == base::test::near(1.0));
  CHECK(*full[0].finding.to_s == base::test::near(1.999));
  CHECK(unequal_sampling(r, hand_fit(), 50).empty());
  r.b_late_s = 2e-4;  // at 0.5 m/s: 100 um, times 2e6 N/m: 200 N
  const auto late = unequal_sampling(r, hand_fit(), 50);
  REQUIRE(late.size() == 1);
  CHECK(late[0].fight_n == base::test::near(200).epsilon(0.01));
}

TEST_CASE("captures that never go over the same places both ways: the jog is asked for") {
  CHECK(base::find_finding(causes_station({hand_recording(110, 30)}, {}, {}).result, "long_jog_missing") != nullptr);
  CHECK(base::find_finding(causes_station({}, {}, {}).result, "long_jog_missing") == nullptr);
}

TEST_CASE("without captures nothing is claimed") {
  const base::StationOutcome out = causes_station({}, {}, {});
  CHECK(out.result.verdict == base::Verdict::not_done);
  CHECK(out.figures.empty());
}

}  // namespace evenbeam::diagnosis
