// Stick and slip, where no event is located: the stepper against an adaptive solver of an independent library
// (Boost.Odeint, Dormand-Prince 5, tolerances 1e-13) on the same LuGre equations, written out here, and against the
// closed form of Coulomb friction with its events (a mass on a spring loses 2 Fc/k of amplitude each half swing,
// sticks where |x| < Fc/k: common mechanics). Wanted: second order in the step through every change between stick and
// slip; towards Coulomb's events in proportion to the deflection before sliding.
#include <doctest/doctest.h>

#include <array>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <utility>
#include <vector>

#include "simulation/gantry.h"

using namespace evenbeam;
namespace odeint = boost::numeric::odeint;

namespace {

constexpr double mass_kg = 200, spring_n_per_m = 1e5;  // of one side: half of each acts on it

simulation::Gantry on_springs(double coulomb_n, double stribeck_n, double presliding_m, double step_s) {
  simulation::Gantry g;
  g.plant.span_m = 2, g.plant.fixed_mass_kg = mass_kg, g.plant.fixed_inertia_kg_m2 = 90;
  g.plant.yaw_stiffness_n_m_per_rad = 1e6;
  g.plant.a.coulomb_n = g.plant.b.coulomb_n = coulomb_n;
  for (auto* side : {&g.effects.a, &g.effects.b}) {
    side->stribeck_n = stribeck_n, side->stribeck_speed_m_per_s = 0.01, side->presliding_m = presliding_m;
    side->cable_n_per_m = spring_n_per_m;  // a spring to the ground
  }
  g.longest_step_s = step_s;
  return g;
}

// x, v, z of one side; force in newtons of one side.
using State = std::array<double, 3>;
struct Lugre {
  simulation::GantryModel model;
  double force_n = 0;
  void operator()(const State& s, State& rate, double) const {
    const dynamics::Bristle& b = model.a.bristle;
    const double v = s[1], ratio = v / b.stribeck_speed_m_per_s;
    const double g = b.coulomb_n + b.stribeck_n * std::exp(-ratio * ratio);
    const double bristle = v - b.stiffness_n_per_m * std::abs(v) * s[2] / g;
    const double damping =
        b.damping_n_s_per_m * std::max(0.0, 1 - b.damping_n_s_per_m * std::abs(v) / (4 * b.coulomb_n));
    rate = {v, (force_n - spring_n_per_m * s[0] - b.stiffness_n_per_m * s[2] - damping * bristle) / (mass_kg / 2),
            bristle};
  }
};

constexpr double period_s = 4e-4;
constexpr int periods = 5000;  // 2 s
// The far end of the spring moves at 4 mm/s: below the speed over which breakaway falls.
double pull_n(int k) { return spring_n_per_m * 0.004 * period_s * k; }

std::vector<double> stepped(double step_s) {
  const auto model = simulation::prepare(on_springs(40, 30, 2e-5, step_s), period_s);
  auto state = simulation::standing(model, 0, 0, 1);
  std::vector<double> out;
  for (int k = 0; k < periods; ++k) {
    simulation::advance(model, state, {pull_n(k), pull_n(k)});
    out.push_back(state.x[0]);
  }
  return out;
}

std::pair<std::vector<double>, int> solved() {
  Lugre equations{simulation::prepare(on_springs(40, 30, 2e-5, period_s), period_s)};
  auto solver = odeint::make_controlled<odeint::runge_kutta_dopri5<State>>(1e-13, 1e-13);
  State s{};
  std::vector<double> out;
  int slips = 0;
  bool sticks = true;
  for (int k = 0; k < periods; ++k) {
    equations.force_n = pull_n(k);
    odeint::integrate_adaptive(solver, equations, s, 0.0, period_s, period_s / 100);
    out.push_back(s[0]);
    if (sticks && s[1] > 0.008) sticks = false, ++slips;
    if (!sticks && s[1] < 5e-4) sticks = true;
  }
  return {out, slips};
}

double largest(const std::vector<double>& x, const std::vector<double>& y) {
  double most = 0;
  for (std::size_t k = 0; k < x.size(); ++k) most = std::max(most, std::abs(x[k] - y[k]));
  return most;
}

}  // namespace

TEST_CASE("stick-slip of a pulled spring, LuGre with Stribeck: second order through every slip") {
  const auto [exact, slips] = solved();
  CAPTURE(slips);
  CHECK(slips >= 4);
  const double coarse = largest(stepped(1e-4), exact), middle = largest(stepped(5e-5), exact),
               fine = largest(stepped(2.5e-5), exact);
  MESSAGE("largest difference of place, m: ", coarse, " ", middle, " ", fine, " at 100, 50 and 25 us");
  CHECK(coarse / middle > 3);
  CHECK(middle / fine > 3);
  CHECK(fine < 1e-6);  // of 8 mm
}

TEST_CASE("Coulomb's events: turning places and the final stick, as the deflection before sliding goes to nothing") {
  // Released at 4 mm with Fc/k = 0.4 mm: turns at -3.2, 2.4, -1.6, 0.8, then 0 (all at rest between: sticks there).
  const auto worst = [](double presliding_m) {
    const auto model = simulation::prepare(on_springs(40, 0, presliding_m, 2e-5), 1e-4);
    auto state = simulation::standing(model, 0.004, 0, 1, false);
    double expected = 0.004, before = 0, off = 0;
    int turns = 0;
    for (int k = 0; k < 12000 && turns < 4; ++k) {
      simulation::advance(model, state, {});
      const double v = state.x[2];
      if (before * v < 0 && std::abs(state.x[0]) > 5e-4) {
        expected = expected > 0 ? -(expected - 8e-4) : -(expected + 8e-4);
        off = std::max(off, std::abs(state.x[0] - expected)), ++turns;
      }
      before = v;
    }
    CHECK(turns == 4);
    return off;
  };
  const double soft = worst(2e-5), middle = worst(1e-5), hard = worst(2.5e-6);
  MESSAGE("turning places off by, m: ", soft, " ", middle, " ", hard, " at 20, 10 and 2.5 um before sliding");
  CHECK(soft < 2 * 2e-5);
  CHECK(middle < 0.7 * soft);
  CHECK(hard < 2 * 2.5e-6);
}
