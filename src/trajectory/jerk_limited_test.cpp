#include "trajectory/jerk_limited.h"

#include <doctest/doctest.h>

#include <random>

#include "base/cases_test.h"
#include "base/input_error.h"
#include "base/near_test.h"
#include "trajectory/random_moves_test.h"

using namespace evenbeam;
using trajectory::MotionState;
using trajectory::MoveLimits;
using namespace trajectory::test;

TEST_CASE("random moves reach their end and keep all limits (CI: a hundredth of the long run, same seeds)") {
  for (int seed = 1; seed <= base::test::cases(10000); ++seed) {
    const Case c = case_of(seed);
    const auto move = trajectory::plan_move(c.from, c.to, c.limits);
    CAPTURE(seed);
    REQUIRE(worst_fault(move, c.from, c.to, c.limits) < 1e-9);
  }
}

TEST_CASE("backwards in time takes as long: from the end with v, -a turned") {
  for (int seed = 1; seed <= base::test::cases(3000); ++seed) {
    std::mt19937_64 draw(seed);
    const Case c = random_case(draw, false);
    const double forward = trajectory::plan_move(c.from, c.to, c.limits).duration_s;
    // x -> -x, t -> -t: v stays, a turns.
    const MotionState from{-c.to.position_m, c.to.velocity_m_per_s, -c.to.acceleration_m_per_s2};
    const MotionState to{-c.from.position_m, c.from.velocity_m_per_s, -c.from.acceleration_m_per_s2};
    CAPTURE(seed);
    REQUIRE(trajectory::plan_move(from, to, c.limits).duration_s == base::test::near(forward).epsilon(1e-7));
  }
}

TEST_CASE("mirrored move takes as long, wider limits never longer (rest to rest)") {
  for (int seed = 1; seed <= base::test::cases(3000); ++seed) {
    std::mt19937_64 draw(seed);
    Case c = random_case(draw, true);
    const double duration = trajectory::plan_move(c.from, c.to, c.limits).duration_s;
    CAPTURE(seed);
    REQUIRE(trajectory::plan_move(0, -c.to.position_m, c.limits).duration_s ==
            base::test::near(duration).epsilon(1e-9));
    c.limits.jerk_m_per_s3 *= 1.3;
    REQUIRE(trajectory::plan_move(c.from, c.to, c.limits).duration_s <= duration * (1 + 1e-12));
    c.limits.acceleration_m_per_s2 *= 1.3, c.limits.speed_m_per_s *= 1.3;
    REQUIRE(trajectory::plan_move(c.from, c.to, c.limits).duration_s <= duration * (1 + 1e-12));
  }
}

TEST_CASE("evaluation between phases is continuous and ends where asked") {
  const auto move = trajectory::plan_move(0.1, 0.8, {1.2, 9, 150});
  CHECK(trajectory::at(move, -1).position_m == 0.1);
  CHECK(trajectory::at(move, move.duration_s + 3).position_m == base::test::near(0.9));
  double last = 0.1;
  for (double t = 0; t < move.duration_s; t += 1e-4) {
    const auto s = trajectory::at(move, t);
    REQUIRE(s.position_m >= last - 1e-12);
    REQUIRE(s.position_m - last < 1.2e-4 * 1.001);
    last = s.position_m;
  }
  CHECK(last == base::test::near(0.9).epsilon(1e-6));
}

TEST_CASE("speed change: stop from motion, and refusals in words") {
  const MoveLimits limits{2, 10, 200};
  const auto stop = trajectory::plan_speed_change({0, 1.5, 4}, 0, limits);
  CHECK(worst_fault(stop, {0, 1.5, 4}, stop.end, limits) < 1e-12);
  CHECK(stop.end.velocity_m_per_s == 0);
  CHECK_THROWS_AS(trajectory::plan_move(0, 1, {0, 10, 100}), base::InputError);
  CHECK_THROWS_AS(trajectory::plan_move({0, 1.99, 9}, {1, 0, 0}, limits), base::InputError);
  CHECK(trajectory::plan_move(0.3, 0, limits).duration_s == 0);
}

TEST_CASE("before its start and after its end a move goes on at the speed it has there") {
  const auto move = trajectory::plan_move({1, 0.2, 0}, {1.5, -0.1, 0}, {1, 4, 50});
  CHECK(trajectory::at(move, -0.5).position_m == base::test::near(1 - 0.1));
  CHECK(trajectory::at(move, -0.5).velocity_m_per_s == 0.2);
  CHECK(trajectory::at(move, move.duration_s + 2).position_m == base::test::near(1.5 - 0.2));
  CHECK(trajectory::at(move, move.duration_s + 2).velocity_m_per_s == base::test::near(-0.1));
}
