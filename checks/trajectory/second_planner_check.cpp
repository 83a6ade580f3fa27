// A second planner on another principle, held against trajectory::plan_move: it never finds a shorter move.
// It draws the two peak accelerations (and the acceleration between them) and solves the hold times from the end
// speed and place; no knowledge of what a fastest move looks like. Source: written for this check.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "base/cases_test.h"
#include "trajectory/jerk_limited.h"

using namespace evenbeam;
using trajectory::MotionState;
using trajectory::MoveLimits;

namespace {

MotionState ramp(MotionState s, double a, double jerk, double& time) {
  const double t = std::abs(a - s.acceleration_m_per_s2) / jerk, j = a > s.acceleration_m_per_s2 ? jerk : -jerk;
  time += t;
  return {s.position_m + t * (s.velocity_m_per_s + t * (s.acceleration_m_per_s2 / 2 + t * j / 6)),
          s.velocity_m_per_s + t * (s.acceleration_m_per_s2 + t * j / 2), a};
}
MotionState hold(MotionState s, double t) {
  return {s.position_m + t * (s.velocity_m_per_s + t * s.acceleration_m_per_s2 / 2),
          s.velocity_m_per_s + t * s.acceleration_m_per_s2, s.acceleration_m_per_s2};
}

struct Trial {
  double first, middle, second;  // accelerations
};

// Largest |v| at phase ends and where a passes zero; the ramps are the only places it can turn.
double fastest_in_ramp(const MotionState& s, double a, double jerk) {
  double peak = std::abs(s.velocity_m_per_s), time = 0;
  if (s.acceleration_m_per_s2 * a < 0) peak = std::max(peak, std::abs(ramp(s, 0, jerk, time).velocity_m_per_s));
  return std::max(peak, std::abs(ramp(s, a, jerk, time).velocity_m_per_s));
}

// The end for hold times t1, c, t2; infinite duration where the speed limit is broken.
double duration(const Trial& p, double t1, double cruise, double t2, const MotionState& from, const MotionState& to,
                const MoveLimits& m, MotionState& end) {
  double time = t1 + cruise + t2, peak = 0;
  MotionState s = from;
  const auto go = [&](double a) {
    peak = std::max(peak, fastest_in_ramp(s, a, m.jerk_m_per_s3));
    s = ramp(s, a, m.jerk_m_per_s3, time);
  };
  go(p.first);
  s = hold(s, t1);
  go(p.middle);
  s = hold(s, cruise);
  go(p.second);
  s = hold(s, t2);
  go(to.acceleration_m_per_s2);
  end = s;
  return peak > m.speed_m_per_s * (1 + 1e-12) ? std::numeric_limits<double>::infinity() : time;
}

// Both hold times from the end speed (linear) and place (a quadratic in t1); or with a cruise at +-speed (linear).
double solve(const Trial& p, const MotionState& from, const MotionState& to, const MoveLimits& m) {
  double best = std::numeric_limits<double>::infinity();
  const auto offer = [&](double t1, double cruise, double t2) {
    if (!(t1 >= 0) || !(cruise >= 0) || !(t2 >= 0)) return;
    MotionState end;
    const double time = duration(p, t1, cruise, t2, from, to, m, end);
    if (time < best && std::abs(end.position_m - to.position_m) < 1e-9 * (1 + std::abs(to.position_m)) &&
        std::abs(end.velocity_m_per_s - to.velocity_m_per_s) < 1e-9 * m.speed_m_per_s)
      best = time;
  };
  MotionState bare;
  duration(p, 0, 0, 0, from, to, m, bare);
  const double dv = to.velocity_m_per_s - bare.velocity_m_per_s;
  if (p.first == 0 || p.second == 0) return best;
  // Miss of place as a function of t1 with t2 = (dv - a1 t1)/a2: a parabola, found from three of its points.
  const auto miss = [&](double t1) {
    MotionState end;
    duration(p, t1, 0, (dv - p.first * t1) / p.second, from, to, m, end);
    return end.position_m - to.position_m;
  };
  const double f0 = miss(0), f1 = miss(1), f2 = miss(2);
  const double a = (f2 - 2 * f1 + f0) / 2, b = f1 - f0 - a, discriminant = b * b - 4 * a * f0;
  if (discriminant >= 0 && a != 0)
    for (double sign : {-1.0, 1.0}) {
      const double t1 = (-b + sign * std::sqrt(discriminant)) / (2 * a);
      offer(t1, 0, (dv - p.first * t1) / p.second);
    }
  if (p.middle != 0) return best;
  for (double v : {m.speed_m_per_s, -m.speed_m_per_s}) {
    double time = 0;
    MotionState s = ramp(ramp(from, p.first, m.jerk_m_per_s3, time), 0, m.jerk_m_per_s3, time);
    const double t1 = (v - s.velocity_m_per_s) / p.first, t2 = (dv - p.first * t1) / p.second;
    MotionState end;
    duration(p, t1, 0, t2, from, to, m, end);
    offer(t1, (to.position_m - end.position_m) / v, t2);
  }
  return best;
}

double second_planner(const MotionState& from, const MotionState& to, const MoveLimits& m, std::mt19937_64& draw) {
  const double top = m.acceleration_m_per_s2;
  std::uniform_real_distribution<double> any(-top, top);
  std::normal_distribution<double> normal;
  Trial best{};
  double time = std::numeric_limits<double>::infinity();
  const auto attempt = [&](const Trial& p) {
    const double t = solve(p, from, to, m);
    if (t < time) time = t, best = p;
  };
  for (double first : {-top, top})
    for (double second : {-top, top}) attempt({first, 0, second});
  for (int i = 0; i < 400; ++i) attempt({any(draw), i % 3 ? 0 : any(draw), any(draw)});
  double width = top / 4;
  for (int i = 0; i < 600; ++i, width *= 0.985) {
    const auto near = [&](double a) { return std::clamp(a + width * normal(draw), -top, top); };
    attempt({near(best.first), best.middle == 0 || i % 4 == 0 ? 0 : near(best.middle), near(best.second)});
  }
  return time;
}

}  // namespace

TEST_CASE("no move of the second planner is shorter (400 random cases, rest and motion)") {
  const int count = base::test::cases(400);
  int close = 0, found = 0;
  double nearest = std::numeric_limits<double>::infinity();
  for (int seed = 1; seed <= count; ++seed) {
    std::mt19937_64 draw(seed);
    const auto between = [&](double low, double high) {
      return std::uniform_real_distribution<double>(low, high)(draw);
    };
    const MoveLimits m{std::exp(between(-1, 1)), std::exp(between(1, 3)), std::exp(between(3, 6))};
    MotionState from, to;
    to.position_m = between(-1, 1);
    if (seed % 4)
      for (MotionState* s : {&from, &to}) {
        s->velocity_m_per_s = between(-0.9, 0.9) * m.speed_m_per_s;
        const double room = std::sqrt(2 * m.jerk_m_per_s3 * (m.speed_m_per_s - std::abs(s->velocity_m_per_s)));
        s->acceleration_m_per_s2 = seed % 4 == 1 ? 0 : between(-0.95, 0.95) * std::min(room, m.acceleration_m_per_s2);
      }
    const double ours = trajectory::plan_move(from, to, m).duration_s;
    const double theirs = second_planner(from, to, m, draw);
    CAPTURE(seed);
    CHECK(theirs > ours * (1 - 1e-9));
    found += std::isfinite(theirs);
    close += theirs < ours * 1.01;
    nearest = std::min(nearest, theirs / ours - 1);
  }
  MESSAGE(count, " cases: ", found, " solved by the second planner, ", close,
          " within 1 %; its best less ours over ours: ", nearest);
  CHECK(found > 0.975 * count);
  CHECK(close > 0.85 * count);  // it is a real competitor: mostly within one part in a hundred
}
