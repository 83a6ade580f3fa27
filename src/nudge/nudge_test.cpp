#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "nudge/nudge_findings.h"
#include "nudge/nudge_station.h"
#include "nudge/wired_test.h"

namespace evenbeam::nudge {
namespace {

using base::Verdict;
using namespace test;

// A finished fit with the numbers this station reads, in the order of identification's unknowns.
identification::MotionFit fitted(double imbalance, double imbalance_sd, double coulomb_a, double coulomb_b) {
  identification::MotionFit fit;
  fit.done = true;
  fit.recordings = {{"moves.csv", 0.2, 3.4, 900, 2, 1}};
  fit.force_imbalance = math::with_sd(imbalance, imbalance_sd);
  const double ratio = (1 - imbalance) / (1 + imbalance);
  fit.gain_ratio_b_to_a = math::with_sd(ratio, 2 * imbalance_sd / std::pow(1 + imbalance, 2));
  fit.coulomb_a_n = math::with_sd(coulomb_a, 2);
  fit.coulomb_b_n = math::with_sd(coulomb_b, 2);
  fit.x = Eigen::VectorXd::Zero(20);
  fit.x[7] = coulomb_a;
  fit.x[8] = coulomb_b;
  fit.covariance = Eigen::MatrixXd::Zero(20, 20);
  fit.covariance(7, 7) = fit.covariance(8, 8) = 4;
  return fit;
}

TEST_CASE("six pushes are found with side, sign, level and span") {
  const recording::Recording r = pushed({});
  const std::vector<Push> pushes = find_pushes(r);
  REQUIRE(pushes.size() == 6);
  const PushSide sides[] = {PushSide::a, PushSide::a, PushSide::b, PushSide::b, PushSide::both, PushSide::both};
  for (std::size_t i = 0; i < 6; ++i) {
    CAPTURE(i);
    CHECK(pushes[i].side == sides[i]);
    CHECK(pushes[i].from_s == base::test::near(0.1 + 0.5 * double(i)).epsilon(1e-9));
    CHECK(std::abs(pushes[i].to_s - pushes[i].from_s - 0.05) < 1.1 * r.period_s);
    if (i < 4) CHECK(own_force_n(pushes[i]) == (i % 2 == 0 ? 140 : -140));
    CHECK(std::isfinite(pushes[i].a.after_m));
  }
}

TEST_CASE("a capture in which B alone is pushed holds B's two pushes") {
  recording::Recording r = pushed({});
  std::fill(r.force_a_n.begin(), r.force_a_n.end(), 0.0);
  for (std::size_t k = 0; k < r.time_s.size(); ++k)
    if (r.time_s[k] > 2.05) r.force_b_n[k] = 0;
  const std::vector<Push> pushes = find_pushes(r);
  REQUIRE(pushes.size() == 2);
  for (const Push& p : pushes) CHECK(p.side == PushSide::b);
  CHECK(own_force_n(pushes[0]) == base::test::near(140));
}

TEST_CASE("a push's way is its own: neither where the bridge stood before nor where it goes later is in it") {
  const recording::Recording r = pushed({});
  recording::Recording elsewhere = r;
  for (std::size_t k = 0; k < r.time_s.size(); ++k)
    for (auto* x : {&elsewhere.position_a_m, &elsewhere.position_b_m})
      (*x)[k] += 0.25 + (r.time_s[k] > 0.3 ? 1e-3 : 0);
  const Push plain = find_pushes(r).front(), moved = find_pushes(elsewhere).front();
  CHECK(plain.a.peak_m > 0);
  CHECK(moved.a.peak_m == base::test::near(plain.a.peak_m).epsilon(1e-6));
  CHECK(moved.b.mean_m == base::test::near(plain.b.mean_m).epsilon(1e-6));
}

TEST_CASE("pushes too weak to move anything, or noise alone: not done, and the bound is told") {
  const base::StationResult weak = answer({pushed({.output_a = 0, .output_b = 0, .level_n = 20})});
  CHECK(weak.verdict == Verdict::not_done);
  CHECK_FALSE(value_of(weak, "sign_a"));
  CHECK(says(weak, "breakaway_a", "the largest that did not, 20 N"));
  for (unsigned seed = 1; seed <= 10; ++seed) {
    CAPTURE(seed);
    const base::StationResult noisy = answer({pushed({.output_a = 0, .output_b = 0, .noise_m = 5e-6, .seed = seed})});
    CHECK(noisy.verdict == Verdict::not_done);
    CHECK_FALSE(value_of(noisy, "sign_a"));
  }
  recording::Recording silent = pushed({.output_a = 0, .output_b = 0});
  std::fill(silent.force_a_n.begin(), silent.force_a_n.end(), 0.0);
  std::fill(silent.force_b_n.begin(), silent.force_b_n.end(), 0.0);
  CHECK(answer({silent}).verdict == Verdict::not_done);
}

TEST_CASE("without pushes nothing passes, though the strengths are known") {
  const base::StationResult r = answer({}, fitted(0.01, 0.002, 40, 45));
  CHECK(r.verdict == Verdict::not_done);
  CHECK(value_of(r, "gain_ratio_b_to_a").value() == base::test::near(0.99 / 1.01));
  CHECK_FALSE(value_of(r, "sign_a"));
  CHECK(verdict_of(r, "strength") == Verdict::pass);
}

TEST_CASE("strength: equal within doubt passes, clearly apart asks, grossly apart stops, papers alone say nothing") {
  const recording::Recording r = pushed({});
  CHECK(verdict_of(answer({r}, fitted(0.04, 0.02, 40, 45)), "strength") == Verdict::pass);
  CHECK(verdict_of(answer({r}, fitted(0.04, 0.002, 40, 45)), "strength") == Verdict::attention);
  CHECK(verdict_of(answer({r}, fitted(-0.04, 0.002, 40, 45)), "strength") == Verdict::attention);
  CHECK(answer({r}, fitted(0.3, 0.002, 40, 45)).verdict == Verdict::stop);
  const base::StationResult wide = answer({r}, fitted(0.04, 0.04, 40, 45));
  CHECK(verdict_of(wide, "strength") == Verdict::not_done);
  CHECK(value_of(wide, "gain_ratio_b_to_a"));
  identification::MotionFit papers = fitted(0.04, 0.002, 40, 45);
  papers.gain_ratio_b_to_a.from_data = 0.2;
  const base::StationResult silent = answer({r}, papers);
  CHECK(verdict_of(silent, "strength") == Verdict::not_done);
  CHECK_FALSE(value_of(silent, "gain_ratio_b_to_a"));
  CHECK_FALSE(value_of(answer({r}), "gain_ratio_b_to_a"));
}

TEST_CASE("friction twice as high on one side is a finding that names it") {
  const recording::Recording r = pushed({});
  CHECK(verdict_of(answer({r}, fitted(0, 0.002, 40, 55)), "friction_difference") == Verdict::pass);
  const base::StationResult hard = answer({r}, fitted(0, 0.002, 30, 75));
  CHECK(verdict_of(hard, "friction_difference") == Verdict::attention);
  CHECK(says(hard, "friction_difference", "Side B runs hard"));
}

TEST_CASE("breakaway: the fit's friction in real newtons, never above the smallest push that moved the side") {
  const std::vector<recording::Recording> recordings{pushed({})};
  const std::vector<Push> pushes = find_pushes(recordings[0]);
  const identification::MotionFit fit = fitted(0.02, 0.002, 40, 45);
  const NudgeInput input{.fit = fit, .force_scale = math::with_sd(1.1, 0.01)};
  const Breakaway a = breakaway(pushes, PushSide::a, input), b = breakaway(pushes, PushSide::b, input);
  CHECK(a.value_n.value() == base::test::near(44));
  CHECK(b.value_n.value() == base::test::near(49.5));
  CHECK(a.smallest_moved_n.value() == base::test::near(140 * 1.1 * 1.02));
  CHECK(b.smallest_moved_n.value() == base::test::near(140 * 1.1 * 0.98));
  CHECK(a.lower_n.value() < 44);
  CHECK(a.upper_n.value() > 44);
  const identification::MotionFit high = fitted(0, 0.002, 200, 45);
  CHECK(breakaway(pushes, PushSide::a, {.fit = high}).contradicts);
  CHECK(verdict_of(answer(recordings, high), "breakaway_a") == Verdict::attention);
}

TEST_CASE("a bridge stiff in yaw is seen to spring back") {
  const base::StationResult r = answer({pushed({})});
  CHECK(says(r, "spring_back", "the yaw stiffness takes back"));
}

TEST_CASE("the figure shows every sample of both sides and every push") {
  const recording::Recording r = pushed({});
  const base::Figure figure = push_figure(r, find_pushes(r));
  REQUIRE(figure.panels.size() == 2);
  CHECK(figure.panels[0].lines[0].y.size() == r.time_s.size());
  CHECK(figure.panels[0].lines[1].y.back() == base::test::near(r.position_b_m.back() - r.position_b_m.front()));
  REQUIRE(figure.panels[0].bands.size() == 6);
  CHECK(figure.panels[0].bands[3].label == "B -140 N");
  CHECK(figure.panels[0].bands[5].label == "both -140 N");
}

}  // namespace
}  // namespace evenbeam::nudge
