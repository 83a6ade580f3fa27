// A travelling carriage against an adaptive Runge-Kutta solver of an independent library (Boost.Odeint), equations of
// docs/equations.md (4), (5), (8) written out by hand: rigid drives, carriage swinging along the whole bridge.
#include <doctest/doctest.h>

#include <array>
#include <boost/numeric/odeint.hpp>
#include <cmath>

#include "simulation/moving_carriage.h"

using namespace evenbeam;
namespace odeint = boost::numeric::odeint;

namespace {

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2;
  p.fixed_mass_kg = 120, p.fixed_moment_kg_m = 2, p.fixed_inertia_kg_m2 = 50;
  p.carriage_mass_kg = 70, p.carriage_ahead_m = 0.15;
  p.yaw_stiffness_n_m_per_rad = 2e5, p.yaw_damping_n_m_s_per_rad = 50, p.stress_free_skew_m = 1e-4;
  p.a = {40, 0, 0, 0, 100, 1}, p.b = {45, 0, 0, 0, 130, 1};
  return p;
}

using State = std::array<double, 6>;  // x_m, theta, rates, y, y'

struct Equations {
  dynamics::Plant p = plant();
  double force_a = 0, force_b = 0, carriage_acceleration = 0;
  void operator()(const State& s, State& rate, double) const {
    const double half = p.span_m / 2, mc = p.carriage_mass_kg, y = s[4], v = s[5], h = p.carriage_ahead_m;
    const double m = p.fixed_mass_kg + mc + p.a.motor_mass_kg + p.b.motor_mass_kg;
    const double s1 = p.fixed_moment_kg_m + mc * y + (p.b.motor_mass_kg - p.a.motor_mass_kg) * half;
    const double j =
        p.fixed_inertia_kg_m2 + mc * (y * y + h * h) + (p.a.motor_mass_kg + p.b.motor_mass_kg) * half * half;
    const double fa = force_a - p.a.viscous_n_s_per_m * (s[2] + half * s[3]);
    const double fb = force_b - p.b.viscous_n_s_per_m * (s[2] - half * s[3]);
    const double sum = fa + fb + mc * (2 * v * s[3] + carriage_acceleration * s[1]);
    const double moment = half * (fa - fb) - p.yaw_stiffness_n_m_per_rad * (s[1] - p.stress_free_skew_m / p.span_m) -
                          p.yaw_damping_n_m_s_per_rad * s[3] - 2 * mc * y * v * s[3] - mc * h * carriage_acceleration;
    const double det = m * j - s1 * s1;
    rate = {s[2], s[3], (j * sum + s1 * moment) / det, (m * moment + s1 * sum) / det, v, carriage_acceleration};
  }
};

}  // namespace

TEST_CASE("0.6 s, carriage swinging 0.8 m at up to 2.4 m/s and 14 m/s2") {
  const double period = 2e-4;
  const auto grid = simulation::prepare_moving({plant(), {}, 2e-5}, period, -0.9, 0.9, 257);
  auto state = simulation::standing(grid.models[0], 0, 1e-4, 1);
  Equations equations;
  State s{0, 1e-4 / 2, 0, 0, -0.4, 0};
  auto solver = odeint::make_controlled<odeint::runge_kutta_dopri5<State>>(1e-13, 1e-11);
  double worst = 0, largest = 0, moved = 0;
  for (int k = 0; k < 3000; ++k) {
    const double t = k * period, w = 6;
    const double a = 200 * std::sin(9 * t), b = 190 * std::sin(9 * t + 0.1),
                 acceleration = 0.4 * w * w * std::cos(w * t);
    simulation::advance(grid, state, {a, b}, {s[4], s[5], acceleration});
    equations.force_a = a, equations.force_b = b, equations.carriage_acceleration = acceleration;
    odeint::integrate_adaptive(solver, equations, s, 0.0, period, period / 2);
    const double skew = state.x[0] - state.x[1];
    worst = std::max(worst, std::abs(skew - 2 * s[1]));
    largest = std::max(largest, std::abs(skew)), moved = std::max(moved, std::abs(s[4]));
  }
  CHECK(moved > 0.35);
  CHECK(largest > 5e-4);
  CHECK(worst < 2e-5 * largest);
}
