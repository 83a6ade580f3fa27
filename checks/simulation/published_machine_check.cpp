// One machine, one move, all control structures: the ordering of a table in the project's field notes, computed there
// on a throw-away model (beam 120 kg, ends 2 x 20, carriage 60 kg, span 2 m, yaw stiffness 4e6 N m/rad, yaw damping
// 3e3, Coulomb 40 N on A and 70 N on B, motor constant of B 3 % low, 0.1 um counts, 4 kHz, one sample of delay; 0.8
// m, 1.5 m/s, 10 m/s2, 200 m/s3). There A stands at +y. First bending is added here: EI = 6e6 N m2 (invented), 114 Hz
// free of drives. Loops: axis loops near 20 Hz, skew term near 25 Hz, chosen here (the source gives bandwidths only).
// Peak skew there, carriage at 0.7 m, um: leader-follower 374, independent 81, + cross-coupling 45, mean/skew with
// share by y 15, independent + share + friction 6.2, mean/skew + share + friction 6.0, cross-coupled + share +
// friction 3.5.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <numbers>

#include "dynamics/beam.h"
#include "simulation/closed_loop.h"

using namespace evenbeam;

namespace {

dynamics::Plant machine_plant(double carriage_y_m) {
  dynamics::Plant p;
  p.span_m = 2;
  p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 120 * 4 / 12.0 + 40;
  p.carriage_mass_kg = 60, p.carriage_y_m = -carriage_y_m;  // the source's y points from B to A
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e3;
  p.a.coulomb_n = 40, p.b.coulomb_n = 70, p.b.force_scale = 0.97;
  const auto bending = dynamics::bridge_bending(6e6, 120, 2, 20);
  p.bending_hz = bending.hz, p.bending_mass_kg = bending.modal_mass_kg, p.bending_end_shape = bending.end_shape;
  p.delay_s = 2.5e-4;
  return p;
}

struct Choice {
  servo::Structure structure;
  bool share, friction;
};

double peak_um(const Choice& choice, double y_m) {
  const auto plant = machine_plant(y_m);
  simulation::RunDescription d;
  d.gantry = {plant, {}, 1.25e-4};
  d.gantry.effects.a.count_m = d.gantry.effects.b.count_m = 1e-7;
  auto& s = d.loops.common;
  s.period_s = 2.5e-4, s.peak_force_a_n = s.peak_force_b_n = 5000;
  const double axis = 2 * std::numbers::pi * 20, mass = dynamics::total_mass_kg(plant);
  // Velocity loop at twice the axis bandwidth, integral a fifth of it; half the moving mass a side.
  s.mean = {axis / 2, mass * axis, 5 / axis, 0, {}};
  s.skew = {axis * 0.6, 45 * axis, 4 / axis, 0, {}};
  s.mass_ff_kg = mass;
  const double sigma = dynamics::balanced_share(plant);
  // In commanded newtons: the weaker motor of B asks for more.
  if (choice.share) s.share = sigma / (sigma + (1 - sigma) / 0.97);
  if (choice.friction) s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 70 / 0.97;
  d.loops.structure = choice.structure;
  d.loops.side_a = d.loops.side_b = {axis / 2, mass / 2 * axis, 5 / axis, 0, {}};
  if (choice.structure == servo::Structure::cross_coupled) s.skew = {axis * 0.6, 22 * axis, 4 / axis, 0, {}};
  d.reference = simulation::track({trajectory::plan_move(0, 0.8, {1.5, 10, 200})}, 0.2, s.period_s);
  return simulation::run(d).peak_true_skew_error_m * 1e6;
}

}  // namespace

TEST_CASE("ordering of seven structures at carriage 0.7 m, bending added") {
  using servo::Structure;
  const double follower = peak_um({Structure::follower, false, false}, 0.7);
  const double independent = peak_um({Structure::independent, false, false}, 0.7);
  const double coupled = peak_um({Structure::cross_coupled, false, false}, 0.7);
  const double share = peak_um({Structure::mean_skew, true, false}, 0.7);
  const double independent_all = peak_um({Structure::independent, true, true}, 0.7);
  const double mean_skew_all = peak_um({Structure::mean_skew, true, true}, 0.7);
  const double coupled_all = peak_um({Structure::cross_coupled, true, true}, 0.7);
  MESSAGE(
      fmt::format("um: follower {:.1f}, independent {:.1f}, coupled {:.1f}, mean/skew + share {:.1f}, independent + "
                  "all {:.1f}, mean/skew + all {:.1f}, coupled + all {:.1f}",
                  follower, independent, coupled, share, independent_all, mean_skew_all, coupled_all));
  CHECK(follower > independent);
  CHECK(independent > coupled);
  CHECK(coupled > share);
  CHECK(share > independent_all);
  CHECK(share > mean_skew_all);
  CHECK(coupled_all < independent_all);
}
