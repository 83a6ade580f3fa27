#include "identification/local_motion.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "base/near_test.h"

namespace evenbeam::identification {
namespace {

recording::Recording made(double period_s, int samples, auto position, auto force) {
  recording::Recording r;
  r.period_s = period_s;
  for (int i = 0; i < samples; ++i) {
    const double t = i * period_s;
    r.time_s.push_back(t);
    r.position_a_m.push_back(position(t));
    r.position_b_m.push_back(-position(t));
    r.force_a_n.push_back(force(t));
    r.force_b_n.push_back(2 * force(t));
  }
  return r;
}

}  // namespace

TEST_CASE("derivatives of a polynomial up to the fourth are exact but for the window's own even moments") {
  // x = t^3: smoothed value differs, but third derivative is 6 and fourth 0; x = t: first is 1.
  const auto cubic = made(
      1e-3, 1200, [](double t) { return t * t * t; }, [](double) { return 1.0; });
  const LocalMotion m = local_motion(cubic, {.bandwidth_hz = 20});
  REQUIRE(m.time_s.size() > 10);
  for (size_t i = 0; i < m.time_s.size(); ++i) {
    CHECK(m.a[2][i] == base::test::near(6 * m.time_s[i]).epsilon(1e-6));
    CHECK(m.a[3][i] == base::test::near(6).epsilon(1e-6));
    CHECK(std::abs(m.a[4][i]) < 1e-2);
    CHECK(m.b[3][i] == base::test::near(-6).epsilon(1e-6));
  }
}

TEST_CASE("a linear law between force and motion survives the window: sine at twice the bandwidth") {
  const double w = 2 * 3.141592653589793 * 30;
  const double mass = 7, viscous = 50, stiffness = 3e4;
  const auto x = [&](double t) { return 1e-3 * std::sin(w * t); };
  const auto f = [&](double t) {
    return 1e-3 * ((stiffness - mass * w * w) * std::sin(w * t) + viscous * w * std::cos(w * t));
  };
  const LocalMotion m = local_motion(made(2e-4, 5000, x, f), {.bandwidth_hz = 15});
  for (size_t i = 0; i < m.time_s.size(); ++i) {
    const double law = mass * m.a[2][i] + viscous * m.a[1][i] + stiffness * m.a[0][i];
    CHECK(std::abs(law - m.force_a_n[i]) < 1e-4 * 1e-3 * mass * w * w);
  }
}

TEST_CASE("a missing sample takes out its own surroundings and nothing else") {
  auto r = made(
      1e-3, 2000, [](double t) { return t; }, [](double) { return 1.0; });
  r.force_b_n[1000] = std::numeric_limits<double>::quiet_NaN();
  const LocalMotion m = local_motion(r, {.bandwidth_hz = 20});
  for (size_t i = 0; i < m.time_s.size(); ++i) {
    CHECK(std::abs(m.time_s[i] - 1.0) > 0.03);
    CHECK(m.direction_a[i] == base::test::near(1));
    CHECK(m.direction_b[i] == base::test::near(-1));
  }
  CHECK(m.time_s.size() > 140);
}

}  // namespace evenbeam::identification
