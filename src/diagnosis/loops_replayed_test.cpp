#include "diagnosis/loops_replayed.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "diagnosis/criteria.h"
#include "servo/structures.h"

namespace evenbeam::diagnosis {
namespace {

// Position loop alone: u = Kv Kp (r - q) + Kv (r' - v).
machine::Settings plain() {
  machine::Settings s;
  s.period_s = 1e-3;
  s.peak_force_a_n = s.peak_force_b_n = 1000;
  s.mean = {10, 2000, 0, 0, {}};
  s.skew = {10, 500, 0, 0, {}};
  return s;
}

// Positions swing about the reference, the sides differently; outputs those of `loops`.
recording::Recording made(const servo::StructureSettings& loops) {
  recording::Recording r;
  r.name = "move.csv", r.kind = recording::RunKind::test_move, r.period_s = 1e-3;
  r.count_a_m = r.count_b_m = 1e-6;
  r.loops = plain();
  const servo::StructureLaw law = servo::prepare(loops);
  servo::StructureState state;
  double before = 0;
  for (int i = 0; i < 2000; ++i) {
    const double t = 1e-3 * i, wave = 2 * std::numbers::pi;
    const double place = 0.1 * (1 - std::cos(wave * t));
    const double a = place - 2e-4 * std::sin(wave * t), b = place - 3e-4 * std::sin(wave * t + 0.4);
    const servo::Reference reference{.mean_m = place, .mean_m_per_s = (place - before) / 1e-3};
    const servo::Forces f = servo::step(law, state, reference, a, b);
    r.time_s.push_back(t);
    r.reference_a_m.push_back(place), r.reference_b_m.push_back(place);
    r.position_a_m.push_back(a), r.position_b_m.push_back(b);
    r.force_a_n.push_back(f.a_n), r.force_b_n.push_back(f.b_n);
    before = place;
  }
  return r;
}

}  // namespace

// Skew held at 10 um: u_s = 500 10 (0 - 1e-5) = -0.05 N on A as stated; -0.15 N were recorded on average, but the
// mean is free (an integral may hold it), so the skew steps to 30 um half way: -0.15 N stated, -0.45 N recorded:
// three times.
TEST_CASE("a skew of 10 and 30 um answered by 0.15 and 0.45 N is three times the gain stated") {
  recording::Recording r;
  r.name = "step.csv", r.kind = recording::RunKind::skew_step, r.period_s = 1e-3;
  r.count_a_m = r.count_b_m = 1e-6;
  r.loops = plain();
  for (int i = 0; i < 1000; ++i) {
    const double skew = i < 500 ? 10e-6 : 30e-6, moved = i == 500 ? 20e-6 / 1e-3 : 0;
    const double force = 3 * (-5000 * skew - 500 * moved);
    r.time_s.push_back(1e-3 * i);
    r.reference_a_m.push_back(0), r.reference_b_m.push_back(0);
    r.position_a_m.push_back(skew / 2), r.position_b_m.push_back(-skew / 2);
    r.force_a_n.push_back(force), r.force_b_n.push_back(-force);
  }
  const ReplayedLoops l = replay_loops(r);
  REQUIRE(l.asked);
  CHECK(l.gain_factor == base::test::near(3));
  CHECK(l.left_with_gain < 1e-6);
  CHECK(l.left_as_stated == base::test::near(2.0 / 3));
  const auto causes = loops_not_as_stated(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "skew_gain_not_as_stated_step.csv");
  CHECK(causes[0].fight_n == base::test::near(2.0 / 3 * l.fight_rms_n));  // what two thirds of the gain make
  r.loops.reset();
  CHECK_FALSE(replay_loops(r).asked);
}

TEST_CASE("outputs of the loops stated say nothing, those of another structure are named") {
  CHECK(loops_not_as_stated(made({.common = plain()})).empty());
  servo::StructureSettings other = servo::independent_from(plain());
  other.structure = servo::Structure::follower;
  const auto follows = loops_not_as_stated(made(other));
  REQUIRE(follows.size() == 1);
  CHECK(follows[0].finding.id == "b_follows_a_move.csv");
  CHECK(*follows[0].finding.value < 0.05);
  other.structure = servo::Structure::cross_coupled;
  other.common.skew.velocity_gain_n_s_per_m = 2000;
  const auto coupled = loops_not_as_stated(made(other));
  for (const Cause& c : coupled) CHECK(c.finding.id != "b_follows_a_move.csv");
}

// Everything a law can have, and references in which both mean and skew move: what was commanded is what is replayed.
TEST_CASE("a law with all its parts, whose skew is commanded too, is followed to its last newton") {
  machine::Settings s = plain();
  s.share = 0.42;
  s.mean = {12, 2500, 0.2, 300, {{80, 0.4, 0.8}}};
  s.skew = {9, 700, 0.3, 250, {{60, 0.5, 0.9}}};
  s.mass_ff_kg = 150, s.skew_ff_kg = 0;
  s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 25, s.coulomb_ramp_m_per_s = 0.05;
  s.viscous_ff_a_n_s_per_m = 120, s.viscous_ff_b_n_s_per_m = 60;
  recording::Recording r;
  r.name = "whole.csv", r.kind = recording::RunKind::test_move, r.period_s = 1e-3, r.loops = s;
  r.count_a_m = r.count_b_m = 1e-6;
  const servo::LoopLaw law = servo::prepare(s);
  servo::LoopState state;
  const double w = 2 * std::numbers::pi;
  double mean_before = 0, skew_before = 1e-4;
  for (int i = 0; i < 2000; ++i) {
    const double t = 1e-3 * i, mean = 0.1 * (1 - std::cos(w * t)), skew = 1e-4 * std::cos(1.7 * w * t);
    const double a = mean + skew / 2 - 2e-4 * std::sin(w * t), b = mean - skew / 2 - 3e-4 * std::sin(w * t + 0.4);
    const servo::Reference reference{.mean_m = mean,
                                     .mean_m_per_s = (mean - mean_before) / 1e-3,
                                     .mean_m_per_s2 = 0.1 * w * w * std::cos(w * t),
                                     .skew_m = skew,
                                     .skew_m_per_s = (skew - skew_before) / 1e-3};
    const servo::Forces f = servo::step(law, state, reference, a, b);
    r.time_s.push_back(t);
    r.reference_a_m.push_back(mean + skew / 2), r.reference_b_m.push_back(mean - skew / 2);
    r.position_a_m.push_back(a), r.position_b_m.push_back(b);
    r.force_a_n.push_back(f.a_n), r.force_b_n.push_back(f.b_n);
    mean_before = mean, skew_before = skew;
  }
  const ReplayedLoops l = replay_loops(r);
  REQUIRE(l.asked);
  CHECK(l.to == 2000);
  CHECK(l.left_as_stated < 1e-6);
  CHECK(l.gain_factor == base::test::near(1));
  CHECK(loops_not_as_stated(r).empty());
}

// Both sides' means follow exactly and the skew swings by 10 um at 1 Hz, slowly against the filter that is not there:
// u_s = -500 (10 s + s'), of 0.05 sqrt(1 + (w/10)^2) N over the root of two; the difference that stands for s' is
// half a period late, which adds w^2 T/10 under the root. The sum is what mass and friction take.
TEST_CASE("what the skew loop gave is what is left of the fight by hand: share and feed-forward are taken out") {
  machine::Settings s = plain();
  s.share = 0.3, s.mass_ff_kg = 200, s.viscous_ff_a_n_s_per_m = 100, s.viscous_ff_b_n_s_per_m = 300;
  recording::Recording r;
  r.name = "swing.csv", r.kind = recording::RunKind::test_move, r.period_s = 1e-3, r.loops = s;
  r.count_a_m = r.count_b_m = 1e-6;
  const double w = 2 * std::numbers::pi;
  double before = 0, skew_before = 0;
  for (int i = 0; i < 3000; ++i) {
    const double t = 1e-3 * i, mean = 0.1 * (1 - std::cos(w * t)), skew = 10e-6 * std::sin(w * t);
    const double v = (mean - before) / 1e-3, u = -500 * (10 * skew + (skew - skew_before) / 1e-3);
    const double sum = 200 * 0.1 * w * w * std::cos(w * t);
    r.time_s.push_back(t);
    r.reference_a_m.push_back(mean), r.reference_b_m.push_back(mean);
    r.position_a_m.push_back(mean + skew / 2), r.position_b_m.push_back(mean - skew / 2);
    r.force_a_n.push_back(0.3 * sum + u + 100 * v), r.force_b_n.push_back(0.7 * sum - u + 300 * v);
    before = mean, skew_before = skew;
  }
  const ReplayedLoops l = replay_loops(r);
  REQUIRE(l.asked);
  CHECK(l.fight_rms_n == base::test::near(0.05 * std::sqrt((1 + 0.01 * w * w + 1e-4 * w * w) / 2)).epsilon(2e-4));
  CHECK(l.gain_factor == base::test::near(1));
}

// Independent sides with 200 kg fed forward, 0.3 of it on A: 40 a N of fight. The acceleration is read off the
// references over 5 ms either way, and taken as nothing nearer to either end, where here it is nearly that.
TEST_CASE("two sides that do not know each other are followed with the mass that is fed forward") {
  machine::Settings s = plain();
  s.share = 0.3, s.mass_ff_kg = 200;
  servo::StructureSettings sides = servo::independent_from(s);
  sides.structure = servo::Structure::independent;
  const servo::StructureLaw law = servo::prepare(sides);
  servo::StructureState state;
  recording::Recording r;
  r.name = "sides.csv", r.kind = recording::RunKind::test_move, r.period_s = 1e-3, r.loops = s;
  r.count_a_m = r.count_b_m = 1e-6;
  const double w = 2 * std::numbers::pi;
  double before = 0, acceleration_fight = 0;
  for (int i = 0; i <= 2000; ++i) {
    const double t = 1e-3 * i, place = 0.1 * (t - std::sin(w * t) / w), a = 0.1 * w * std::sin(w * t);
    const double at_a = place - 2e-5 * std::sin(w * t), at_b = place - 3e-5 * std::sin(w * t + 0.4);
    const servo::Forces f = servo::step(
        law, state, {.mean_m = place, .mean_m_per_s = (place - before) / 1e-3, .mean_m_per_s2 = a}, at_a, at_b);
    r.time_s.push_back(t);
    r.reference_a_m.push_back(place), r.reference_b_m.push_back(place);
    r.position_a_m.push_back(at_a), r.position_b_m.push_back(at_b);
    r.force_a_n.push_back(f.a_n), r.force_b_n.push_back(f.b_n);
    before = place, acceleration_fight = std::max(acceleration_fight, 40 * a);
  }
  REQUIRE(acceleration_fight > 20);
  const ReplayedLoops l = replay_loops(r);
  REQUIRE(l.asked);
  CHECK(l.left_independent < 0.005);
  CHECK(l.left_follower > 5 * l.left_independent);
}

TEST_CASE("a side that is off in motion is not asked from there on") {
  recording::Recording r = made({.common = plain()});
  for (std::size_t k = 1500; k < r.time_s.size(); ++k) r.force_a_n[k] = 0;
  CHECK(replay_loops(r).to == 1500);
  CHECK(loops_not_as_stated(r).empty());
}

}  // namespace evenbeam::diagnosis
