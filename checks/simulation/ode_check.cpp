// The stepper against an adaptive Runge-Kutta solver of an independent library (Boost.Odeint, Dormand-Prince 5) on
// smooth cases: equations written out by hand here, in mean and yaw, elastic drives, no shared code but the plant's
// numbers. Wanted: places equal to 1e-8 of the largest. The first plant is the one written here, the next have every
// number drawn between three fifths and five thirds of it.
#include <doctest/doctest.h>

#include <array>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <random>

#include "base/cases_test.h"
#include "simulation/gantry.h"

using namespace evenbeam;
namespace odeint = boost::numeric::odeint;

namespace {

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 1.7;
  p.fixed_mass_kg = 150, p.fixed_moment_kg_m = -3, p.fixed_inertia_kg_m2 = 60;
  p.carriage_mass_kg = 40, p.payload_kg = 6, p.carriage_y_m = -0.4, p.carriage_ahead_m = 0.05;
  p.yaw_stiffness_n_m_per_rad = 9e5, p.yaw_damping_n_m_s_per_rad = 700, p.stress_free_skew_m = 4e-5;
  p.a = {80, 3e7, 4000, 0, 150, 1.03};
  p.b = {90, 4e7, 4500, 0, 190, 0.98};
  p.delay_s = 2e-4, p.current_lag_s = 4e-4;
  return p;
}

dynamics::Effects effects() {
  dynamics::Effects e;
  e.a = {.cogging_n = 12, .cogging_pitch_m = 0.02, .cable_n = 3, .cable_n_per_m = 8};
  e.b = {.cogging_n = 9, .cogging_pitch_m = 0.02, .cogging_phase_rad = 0.7, .cable_n = 5};
  e.stress_free_slope = 3e-4, e.stress_free_wave_m = 2e-5, e.stress_free_wave_length_m = 0.25;
  return e;
}

// x_mA, x_mB, x_m, theta, rates, lagged forces.
using State = std::array<double, 10>;

struct Equations {
  dynamics::Plant p;
  dynamics::Effects e;
  double command_a = 0, command_b = 0;

  double ripple(const dynamics::SideEffects& s, double x) const {
    return s.cogging_n * std::sin(2 * M_PI * x / s.cogging_pitch_m + s.cogging_phase_rad);
  }
  void operator()(const State& s, State& rate, double) const {
    const double half = p.span_m / 2;
    const double xa = s[2] + half * s[3], xb = s[2] - half * s[3], va = s[6] + half * s[7], vb = s[6] - half * s[7];
    const double drive_a = p.a.drive_stiffness_n_per_m * (s[0] - xa) + p.a.drive_damping_n_s_per_m * (s[4] - va);
    const double drive_b = p.b.drive_stiffness_n_per_m * (s[1] - xb) + p.b.drive_damping_n_s_per_m * (s[5] - vb);
    const double end_a = drive_a - p.a.viscous_n_s_per_m * va - e.a.cable_n - e.a.cable_n_per_m * xa;
    const double end_b = drive_b - p.b.viscous_n_s_per_m * vb - e.b.cable_n - e.b.cable_n_per_m * xb;
    const double free = (p.stress_free_skew_m + e.stress_free_slope * s[2] +
                         e.stress_free_wave_m * std::sin(2 * M_PI * s[2] / e.stress_free_wave_length_m)) /
                        p.span_m;
    const double moment =
        half * (end_a - end_b) - p.yaw_stiffness_n_m_per_rad * (s[3] - free) - p.yaw_damping_n_m_s_per_rad * s[7];
    const double mc = p.carriage_mass_kg + p.payload_kg, y = p.carriage_y_m, h = p.carriage_ahead_m;
    const double m = p.fixed_mass_kg + mc, s1 = p.fixed_moment_kg_m + mc * y;
    const double j = p.fixed_inertia_kg_m2 + mc * (y * y + h * h), det = m * j - s1 * s1;
    for (int i = 0; i < 4; ++i) rate[i] = s[4 + i];
    rate[4] = (s[8] + ripple(e.a, s[0]) - drive_a) / p.a.motor_mass_kg;
    rate[5] = (s[9] + ripple(e.b, s[1]) - drive_b) / p.b.motor_mass_kg;
    rate[6] = (j * (end_a + end_b) + s1 * moment) / det;
    rate[7] = (m * moment + s1 * (end_a + end_b)) / det;
    rate[8] = (p.a.force_scale * command_a - s[8]) / p.current_lag_s;
    rate[9] = (p.b.force_scale * command_b - s[9]) / p.current_lag_s;
  }
};

// Every number but the delay, which is one period, times something of its own.
void vary(dynamics::Plant& p, dynamics::Effects& e, unsigned seed) {
  std::mt19937_64 draw(seed);
  std::uniform_real_distribution<double> any(-0.5, 0.5);
  for (double* x : {&p.span_m, &p.fixed_mass_kg, &p.fixed_moment_kg_m, &p.fixed_inertia_kg_m2, &p.carriage_mass_kg,
                    &p.payload_kg, &p.carriage_y_m, &p.carriage_ahead_m, &p.yaw_stiffness_n_m_per_rad,
                    &p.yaw_damping_n_m_s_per_rad, &p.stress_free_skew_m, &p.current_lag_s, &e.stress_free_slope,
                    &e.stress_free_wave_m, &e.stress_free_wave_length_m})
    *x *= std::exp(any(draw));
  for (dynamics::PlantSide* s : {&p.a, &p.b})
    for (double* x : {&s->motor_mass_kg, &s->drive_stiffness_n_per_m, &s->drive_damping_n_s_per_m,
                      &s->viscous_n_s_per_m, &s->force_scale})
      *x *= std::exp(any(draw));
  for (dynamics::SideEffects* s : {&e.a, &e.b})
    for (double* x : {&s->cogging_n, &s->cogging_pitch_m, &s->cable_n, &s->cable_n_per_m}) *x *= std::exp(any(draw));
}

// Largest difference of place over the largest place.
double difference(const dynamics::Plant& plant, const dynamics::Effects& effects) {
  const double period = 2e-4;  // the delay is one period
  const auto model = simulation::prepare({plant, effects, 1.25e-6}, period);
  auto state = simulation::standing(model, 0.01, 1e-4, 1);
  Equations equations{plant, effects};
  State s{state.x[0], state.x[1], 0.01, 1e-4 / plant.span_m};
  auto solver = odeint::make_controlled<odeint::runge_kutta_dopri5<State>>(1e-13, 1e-12);
  double worst = 0, largest = 0, before_a = 0, before_b = 0;
  for (int k = 0; k < 1000; ++k) {
    const double a = 700 * std::sin(0.02 * k) + 50, b = 600 * std::sin(0.02 * k + 0.2);
    simulation::advance(model, state, {a, b});
    equations.command_a = before_a, equations.command_b = before_b;
    odeint::integrate_adaptive(solver, equations, s, 0.0, period, period / 4);
    before_a = a, before_b = b;
    const double half = plant.span_m / 2;
    worst = std::max({worst, std::abs(state.x[0] - (s[2] + half * s[3])), std::abs(state.x[1] - (s[2] - half * s[3])),
                      std::abs(state.x[2] - s[0])});
    largest = std::max(largest, std::abs(state.x[0]));
  }
  REQUIRE(largest > 0.01);
  return worst / largest;
}

}  // namespace

TEST_CASE("0.2 s under changing commands, ripple, cable, lag, delay, stress-free skew along x") {
  double worst = 0;
  for (int seed = 1; seed <= base::test::cases(4); ++seed) {
    auto p = plant();
    auto e = effects();
    if (seed > 1) vary(p, e, static_cast<unsigned>(seed));
    CAPTURE(seed);
    const double found = difference(p, e);
    CHECK(found < 1e-8);
    worst = std::max(worst, found);
  }
  MESSAGE("largest difference of place over the largest place: ", worst);
}
