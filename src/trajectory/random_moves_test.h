#pragma once
// Random moves and how they are judged: for the tests here and for the long run (checks/trajectory/many_moves.cpp).
#include <algorithm>
#include <cmath>
#include <random>

#include "trajectory/jerk_limited.h"

namespace evenbeam::trajectory::test {

// Excess over the limits, jumps between phases and miss at the end, all relative to the move's own sizes.
inline double worst_fault(const Move& move, const MotionState& from, const MotionState& to, const MoveLimits& m) {
  double fault =
      std::max(move.peak_speed_m_per_s / m.speed_m_per_s, move.peak_acceleration_m_per_s2 / m.acceleration_m_per_s2) -
      1;
  MotionState s = from;
  double time = 0;
  const auto compare = [&](const MotionState& p, const MotionState& q) {
    const double length =
        std::abs(to.position_m - from.position_m) + m.speed_m_per_s * m.speed_m_per_s / m.acceleration_m_per_s2;
    fault = std::max({fault, std::abs(p.position_m - q.position_m) / length,
                      std::abs(p.velocity_m_per_s - q.velocity_m_per_s) / m.speed_m_per_s,
                      std::abs(p.acceleration_m_per_s2 - q.acceleration_m_per_s2) / m.acceleration_m_per_s2});
  };
  for (int i = 0; i < move.count; ++i) {
    const auto& p = move.phases[i];
    compare(p.start, s);
    fault = std::max(fault, std::abs(p.jerk_m_per_s3) / m.jerk_m_per_s3 - 1);
    const double t = p.duration_s, j = p.jerk_m_per_s3;
    s = {p.start.position_m + t * (p.start.velocity_m_per_s + t * (p.start.acceleration_m_per_s2 / 2 + t * j / 6)),
         p.start.velocity_m_per_s + t * (p.start.acceleration_m_per_s2 + t * j / 2),
         p.start.acceleration_m_per_s2 + t * j};
    time += t;
  }
  compare(s, to);
  return std::max(fault, std::abs(time - move.duration_s));
}

struct Case {
  MotionState from, to;
  MoveLimits limits;
};
inline Case random_case(std::mt19937_64& draw, bool at_rest) {
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(draw);
  };
  Case c;
  c.limits = {std::exp(between(-3, 1.5)), std::exp(between(-1, 4)), std::exp(between(1, 8))};
  c.to.position_m = between(-1, 1) * std::exp(between(-7, 1));
  if (at_rest) return c;
  const auto& m = c.limits;
  for (MotionState* s : {&c.from, &c.to}) {
    s->velocity_m_per_s = between(-1, 1) * m.speed_m_per_s;
    const double room = std::sqrt(2 * m.jerk_m_per_s3 * (m.speed_m_per_s - std::abs(s->velocity_m_per_s)));
    s->acceleration_m_per_s2 = between(0, 1) < 0.3 ? 0 : between(-1, 1) * std::min(room, m.acceleration_m_per_s2);
  }
  return c;
}

// The case of a seed, as all runs draw it.
inline Case case_of(unsigned long seed) {
  std::mt19937_64 draw(seed);
  return random_case(draw, seed % 3 == 0);
}

}  // namespace evenbeam::trajectory::test
