// A push simulated: rigid bridge, Coulomb friction per side, guide stiffness; independent of the bound's algebra.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "limits/example_test.h"
#include "limits/limits_station.h"

namespace evenbeam::limits {

namespace {

using test::example;
using test::value_of;

struct Truth {
  double span = 2, mass = 300, moment = 0, yaw = 200, stiffness = 0, friction_a = 10, friction_b = 10;
};
struct Seen {
  double skew = 0, speed = 0, moment = 0, way = 0;
};

Seen simulate(const Truth& p, double force_a, double force_b, double time, double theta_0) {
  const double step = 1e-5, soft = 2e-4;  // s, m/s: friction is c tanh(v/soft)
  const double det = p.mass * p.yaw - p.moment * p.moment;
  double x = 0, theta = theta_0, v = 0, w = 0;
  Seen seen;
  for (int k = 0; k * step < time + 0.6; ++k) {
    const double va = v + w * p.span / 2, vb = v - w * p.span / 2;
    const bool on = k * step < time;
    const double fa = (on ? force_a : 0) - p.friction_a * std::tanh(va / soft);
    const double fb = (on ? force_b : 0) - p.friction_b * std::tanh(vb / soft);
    const double f = fa + fb, q = (fa - fb) * p.span / 2 - p.stiffness * theta;
    v += step * (p.yaw * f + p.moment * q) / det;
    w += step * (p.moment * f + p.mass * q) / det;
    x += step * v;
    theta += step * w;
    seen.skew = std::max(seen.skew, std::abs(theta) * p.span);
    seen.speed = std::max({seen.speed, std::abs(v + w * p.span / 2), std::abs(v - w * p.span / 2)});
    seen.moment = std::max(seen.moment, std::abs(p.stiffness * theta));
    seen.way = std::max(
        {seen.way, std::abs(x + (theta - theta_0) * p.span / 2), std::abs(x - (theta - theta_0) * p.span / 2)});
  }
  return seen;
}

}  // namespace

TEST_CASE("random machines pushed with a side dead, reversed or stiff in friction stay inside every bound") {
  constexpr unsigned seed = 20240611;
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(0, 1);
  double closest_skew = 0, closest_speed = 0;
  for (int i = 0; i < 60; ++i) {
    machine::Machine m = example();
    m.span_m = 0.8 + 2.5 * u(random);
    m.bridge_mass_kg = 40 + 300 * u(random);
    m.end_mass_a_kg = 30 * u(random);
    m.end_mass_b_kg = 30 * u(random);
    m.carriage_mass_kg = 80 * u(random);
    m.carriage_min_y_m = -0.4 * m.span_m;
    m.carriage_max_y_m = 0.4 * m.span_m;
    const double y = 0.4 * m.span_m * (2 * u(random) - 1);
    Truth truth{.span = m.span_m};
    const double a = *m.end_mass_a_kg + 30, b = *m.end_mass_b_kg + 30, c = *m.carriage_mass_kg;
    truth.mass = *m.bridge_mass_kg + a + b + c;
    truth.moment = c * y + (b - a) * m.span_m / 2;
    truth.yaw = *m.bridge_mass_kg * m.span_m * m.span_m / 12 + (a + b) * m.span_m * m.span_m / 4 + c * y * y;
    const bool guided = i % 3 != 0;
    truth.stiffness = guided ? std::pow(10, 4 + 3 * u(random)) : 0;
    truth.friction_a = 3 + 40 * u(random);
    truth.friction_b = 3 + 40 * u(random);
    const double force = 60 + 200 * u(random), time = 0.01 + 0.15 * u(random);
    PushCase push{.span_m = m.span_m, .inertia = *push_inertia(m, {})};
    push.friction_low_n = std::min(truth.friction_a, truth.friction_b);
    double theta_0 = 0;
    if (guided) {
      push.stiffness_low_n_m_per_rad = push.stiffness_high_n_m_per_rad = truth.stiffness;
      push.start_skew_m = push.friction_low_n.value() * m.span_m * m.span_m / truth.stiffness;
      theta_0 = (2 * u(random) - 1) * push.start_skew_m / m.span_m;
    }
    const PushBounds bounds = push_bounds(push, force, time);
    for (const auto& [sign_a, sign_b] : {std::pair{1, 0}, {0, 1}, {1, 1}, {1, -1}, {-1, 1}, {0, -1}}) {
      const Seen seen = simulate(truth, sign_a * force, sign_b * force, time, theta_0);
      CAPTURE(seed);
      CAPTURE(i);
      CAPTURE(sign_a);
      CAPTURE(sign_b);
      const double slack = 1.002;  // integration step and softened friction
      CHECK(seen.skew <= *bounds.skew_m * slack);
      CHECK(seen.way <= *bounds.way_m * slack);
      CHECK(seen.speed <= bounds.speed_m_per_s * slack);
      CHECK(seen.moment <= bounds.moment_n_m * slack);
      closest_skew = std::max(closest_skew, seen.skew / *bounds.skew_m);
      closest_speed = std::max(closest_speed, seen.speed / bounds.speed_m_per_s);
    }
  }
  CHECK(closest_skew > 0.5);  // a bound that is never approached would be useless
  CHECK(closest_speed > 0.5);
}

TEST_CASE("the chosen push keeps inside its limits for the machine it was chosen for, carriage anywhere") {
  const machine::Machine m = example();
  const base::Estimate stiffness{5e5, 4e5, 6e5};
  const LimitsInput input{.yaw_stiffness_n_m_per_rad = stiffness,
                          .coulomb_a_n = base::Estimate{15, 10, 20},
                          .coulomb_b_n = base::Estimate{25, 20, 30}};
  const auto out = limits_station(m, input);
  const double force = value_of(out, "push_force_n"), time = value_of(out, "push_time_s");
  for (const double y : {-0.6, 0.0, 0.6}) {
    const Truth truth{.span = 1.6,
                      .mass = 250,
                      .moment = 40 * y,
                      .yaw = 120 * 2.56 / 12 + 90 * 0.64 + 40 * y * y,
                      .stiffness = 5e5,
                      .friction_a = 15,
                      .friction_b = 25};
    for (const int other : {-1, 0, 1}) {
      const Seen seen = simulate(truth, 1.1 * force, 1.1 * other * force, time, 0);
      CHECK(seen.skew <= 0.5 * value_of(out, "allowable_skew_m"));
      CHECK(seen.speed <= 2.0 / 60);
      CHECK(seen.moment <= 0.5 * value_of(out, "allowable_yaw_moment_n_m"));
    }
  }
}

}  // namespace evenbeam::limits
