// Jerk-limited moves against published examples.
// Source: Biagiotti and Melchiorri, Trajectory Planning for Automatic Machines and Robots, Springer 2008,
// section 3.4, examples 3.9, 3.10, 3.13 (values as quoted elsewhere; the book was not read). x0 = 0, x1 = 10,
// jerk 30. The last three are derived: T = L/v + v/a + a/j while both limits are reached, else 4 (L/2j)^(1/3).
#include <doctest/doctest.h>

#include <cmath>

#include "trajectory/jerk_limited.h"

using namespace evenbeam;

TEST_CASE("example 3.9: v0 = 1, v1 = 0, speed 5, acceleration 10") {
  const auto move = trajectory::plan_move({0, 1, 0}, {10, 0, 0}, {5, 10, 30});
  CHECK(std::abs(move.duration_s - 2.7100) < 1e-4);
  REQUIRE(move.count == 7);
  CHECK(std::abs(move.phases[0].duration_s - 0.3333) < 1e-4);
  CHECK(std::abs(move.phases[0].duration_s + move.phases[1].duration_s + move.phases[2].duration_s - 0.7333) < 1e-4);
  CHECK(std::abs(move.phases[3].duration_s - 1.1433) < 1e-4);
  CHECK(std::abs(move.phases[4].duration_s + move.phases[5].duration_s + move.phases[6].duration_s - 0.8333) < 1e-4);
}

TEST_CASE("example 3.10: the same with speed 10, which is not reached") {
  const auto move = trajectory::plan_move({0, 1, 0}, {10, 0, 0}, {10, 10, 30});
  CHECK(std::abs(move.duration_s - 2.249380) < 1e-6);
  CHECK(std::abs(move.peak_speed_m_per_s - 8.413567) < 1e-6);
  REQUIRE(move.count >= 6);  // a seventh of rounding's length may cruise
  const auto three = [&](int i) {
    return move.phases[i].duration_s + move.phases[i + 1].duration_s + move.phases[i + 2].duration_s;
  };
  CHECK(std::abs(three(0) - 1.074690) < 1e-6);
  CHECK(std::abs(three(move.count - 3) - 1.174690) < 1e-6);
}

TEST_CASE("example 3.13: rest to rest, acceleration 20 and speed 10 not reached") {
  const auto move = trajectory::plan_move(0, 10, {10, 20, 30});
  CHECK(std::abs(move.duration_s - 2.201285) < 1e-6);
  CHECK(std::abs(move.peak_speed_m_per_s - 9.085603) < 1e-6);
  CHECK(std::abs(move.peak_acceleration_m_per_s2 - 16.509636) < 1e-6);
}

TEST_CASE("rest to rest, 1 m/s, 10 m/s2, 200 m/s3: 0.4, 0.05 and 0.01 m") {
  const trajectory::MoveLimits limits{1, 10, 200};
  CHECK(std::abs(trajectory::plan_move(0, 0.4, limits).duration_s - 0.55) < 1e-9);
  const auto middle = trajectory::plan_move(0, 0.05, limits);
  CHECK(std::abs(middle.duration_s - 0.2) < 1e-9);
  CHECK(std::abs(middle.peak_speed_m_per_s - 0.5) < 1e-9);
  CHECK(std::abs(middle.peak_acceleration_m_per_s2 - 10) < 1e-6);
  const auto little = trajectory::plan_move(0, 0.01, limits);
  CHECK(std::abs(little.duration_s - 0.116961) < 1e-6);
  CHECK(std::abs(little.peak_speed_m_per_s - 0.170998) < 1e-6);
  CHECK(std::abs(little.peak_acceleration_m_per_s2 - 5.848035) < 1e-6);
}
