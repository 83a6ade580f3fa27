// One machine, one move, all control structures: the ordering of a table in the project's field notes, computed there
// on a throw-away model (beam 120 kg, ends 2 x 20, carriage 60 kg, span 2 m, yaw stiffness 4e6 N m/rad, yaw damping
// 3e3, Coulomb 40 N on A and 70 N on B, motor constant of B 3 % low, 0.1 um counts, 4 kHz, one sample of delay; 0.8
// m, 1.5 m/s, 10 m/s2, 200 m/s3). There A stands at +y. First bending is added here: EI = 6e6 N m2 (invented), 114 Hz
// free of drives. The source gives bandwidths only: axis loops 20 Hz, skew term 25 to 30 Hz. One rule turns a
// bandwidth f into gains here: Kv = mass 2 pi f, Kp = pi f, Ti = 5/(2 pi f), mass half the moving mass for a side and
// a quarter for the skew term (what independent sides give the skew, servo/side_gains.h); skew term at 27.5 Hz. Peak
// skew there, um (carriage at 0 / at 0.7 m, RMS at 0.7 m): leader-follower 382/374/249, independent 12.3/81.1/38.3, +
// cross-coupling 6.9/44.7/21.1, mean/skew with share by y 11.9/14.9/4.3, independent + share + friction 7.4/6.2/2.8,
// mean/skew + share + friction 7.5/6.0/2.6, cross-coupled + share + friction 4.1/3.5/1.6. Its row with 14 learning
// trials: checks/tuning/known_machine_check.cpp.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <array>
#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "base/near_test.h"
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
  bool motor_known = false;  // B's motor constant is in share and feed-forward
  bool bends = true;
  double presliding_m = 1e-5;
};

struct Skew {
  double peak_um = 0, rms_um = 0;
};

Skew skew_of(const Choice& choice, double y_m, double skew_term_hz = 27.5) {
  const auto plant = machine_plant(y_m);
  simulation::RunDescription d;
  d.gantry = {plant, {}, 1.25e-4};
  if (!choice.bends) d.gantry.plant.bending_hz = d.gantry.plant.bending_mass_kg = 0;
  for (auto* side : {&d.gantry.effects.a, &d.gantry.effects.b})
    side->count_m = 1e-7, side->presliding_m = choice.presliding_m;
  auto& s = d.loops.common;
  s.period_s = 2.5e-4, s.peak_force_a_n = s.peak_force_b_n = 5000;
  const double mass = dynamics::total_mass_kg(plant);
  const auto loop = [](double hz, double mass_kg) {
    const double w = 2 * std::numbers::pi * hz;
    return machine::CoordinateLoop{w / 2, mass_kg * w, 5 / w, 0, {}};
  };
  s.mean = loop(20, mass), s.skew = loop(skew_term_hz, mass / 4);
  s.mass_ff_kg = mass;
  const double motor_b = choice.motor_known ? 0.97 : 1, sigma = dynamics::balanced_share(plant);
  if (choice.share) s.share = sigma / (sigma + (1 - sigma) / motor_b);
  if (choice.friction) s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 70 / motor_b;
  d.loops.structure = choice.structure;
  d.loops.side_a = d.loops.side_b = loop(20, mass / 2);
  d.reference = simulation::track({trajectory::plan_move(0, 0.8, {1.5, 10, 200})}, 0.2, s.period_s);
  const auto run = simulation::run(d);
  double squares = 0;
  for (std::size_t k = 0; k < run.time_s.size(); ++k) {
    const double skew = run.true_a_m[k] - run.true_b_m[k] - (run.true_a_m[0] - run.true_b_m[0]);
    squares += skew * skew / static_cast<double>(run.time_s.size());
  }
  return {run.peak_true_skew_error_m * 1e6, std::sqrt(squares) * 1e6};
}

}  // namespace

TEST_CASE("ordering of seven structures, bending added: peak and RMS, carriage in the middle and at 0.7 m") {
  using servo::Structure;
  struct Row {
    const char* name;
    Choice choice;
    double there[3];  // peak at 0, peak at 0.7 m, RMS at 0.7 m; um
  };
  const Row rows[] = {
      {"follower", {Structure::follower, false, false}, {382, 374, 249}},
      {"independent", {Structure::independent, false, false}, {12.3, 81.1, 38.3}},
      {"cross-coupled", {Structure::cross_coupled, false, false}, {6.9, 44.7, 21.1}},
      {"mean/skew + share", {Structure::mean_skew, true, false}, {11.9, 14.9, 4.3}},
      {"independent + all", {Structure::independent, true, true}, {7.4, 6.2, 2.8}},
      {"mean/skew + all", {Structure::mean_skew, true, true}, {7.5, 6.0, 2.6}},
      {"cross-coupled + all", {Structure::cross_coupled, true, true}, {4.1, 3.5, 1.6}},
  };
  std::vector<std::array<double, 3>> here;
  for (const Row& row : rows) {
    const Skew middle = skew_of(row.choice, 0), aside = skew_of(row.choice, 0.7);
    here.push_back({middle.peak_um, aside.peak_um, aside.rms_um});
    MESSAGE(fmt::format("{:<20} at 0: {:6.1f} ({}), at 0.7 m: {:6.1f} ({}), RMS {:6.1f} ({}) um", row.name,
                        middle.peak_um, row.there[0], aside.peak_um, row.there[1], aside.rms_um, row.there[2]));
  }
  // Every pair that is told apart there (by a fifth or more) stands in the same order here.
  for (int column = 0; column < 3; ++column)
    for (std::size_t i = 0; i < std::size(rows); ++i)
      for (std::size_t j = 0; j < std::size(rows); ++j)
        if (rows[i].there[column] > 1.2 * rows[j].there[column]) {
          CAPTURE(std::string(rows[i].name));
          CAPTURE(std::string(rows[j].name));
          CAPTURE(column);
          // RMS of mean/skew + share and independent + all: 4.3 and 2.8 there, 4.33 and 4.39 here, a tie.
          CHECK(here[i][column] > (column == 2 ? 0.98 : 1) * here[j][column]);
        }
  // What cross-coupling saves of independent sides: 45 % there, 53 % here.
  CHECK(std::abs(44.7 / 81.1 - here[2][1] / here[1][1]) < 0.1);
}

// The source's values of the three rows with share and friction (6.2, 6.0, 3.5 um) are met where B's 3 % are in none
// of them; with the weak motor corrected all fall by up to a half, and of the pair that is 3 % apart there the order
// turns inside the stated range of the skew term.
TEST_CASE("what the weak motor costs, and what turns the closest pair") {
  using servo::Structure;
  const Choice sides{Structure::independent, true, true}, both{Structure::mean_skew, true, true};
  CHECK(skew_of(both, 0.7, 25).peak_um < skew_of(sides, 0.7).peak_um);
  CHECK(skew_of(both, 0.7, 30).peak_um < skew_of(sides, 0.7).peak_um);
  const Choice sides_known{Structure::independent, true, true, true},
      both_known{Structure::mean_skew, true, true, true};
  const double known = skew_of(sides_known, 0.7).peak_um;
  MESSAGE(fmt::format("weak motor corrected: independent {:.2f}, mean/skew at 25 Hz {:.2f}, at 30 Hz {:.2f} um",
                      known, skew_of(both_known, 0.7, 25).peak_um, skew_of(both_known, 0.7, 30).peak_um));
  CHECK(known < 0.6 * skew_of(sides, 0.7).peak_um);
  CHECK(skew_of(both_known, 0.7, 25).peak_um > known);
  CHECK(skew_of(both_known, 0.7, 30).peak_um < known);
}

TEST_CASE("what bending and the bristle are worth") {
  using servo::Structure;
  const auto peak = [](bool all, bool bends, double presliding_m) {
    const Structure structure = all ? Structure::cross_coupled : Structure::independent;
    return skew_of({structure, all, all, false, bends, presliding_m}, 0.7).peak_um;
  };
  MESSAGE(
      fmt::format("independent {:.1f}, rigid bridge {:.1f}, bristle of 1 um {:.1f}; cross-coupled + all {:.2f}, "
                  "{:.2f}, {:.2f} um",
                  peak(false, true, 1e-5), peak(false, false, 1e-5), peak(false, true, 1e-6), peak(true, true, 1e-5),
                  peak(true, false, 1e-5), peak(true, true, 1e-6)));
  for (const bool all : {false, true}) {
    CHECK(std::abs(peak(all, false, 1e-5) / peak(all, true, 1e-5) - 1) < 0.1);
    CHECK(std::abs(peak(all, true, 1e-6) / peak(all, true, 1e-5) - 1) < 0.1);
  }
}
