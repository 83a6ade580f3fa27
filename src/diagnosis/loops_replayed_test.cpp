#include "diagnosis/loops_replayed.h"

#include <doctest/doctest.h>

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

TEST_CASE("a side that is off in motion is not asked from there on") {
  recording::Recording r = made({.common = plain()});
  for (std::size_t k = 1500; k < r.time_s.size(); ++k) r.force_a_n[k] = 0;
  CHECK(replay_loops(r).to == 1500);
  CHECK(loops_not_as_stated(r).empty());
}

}  // namespace evenbeam::diagnosis
