// Papers state reductions on machines, moves and baselines of their own, mostly without the numbers that would let
// one build them again. What can be done is the same change of method, all else equal, on one declared machine
// (known_machine.h: a study's machine, its move, one stroke, carriage at 0.7 m towards A, its loops of 20 Hz).
// Reductions as the abstracts of the papers give them; the simulated rows are those of the study that declared the
// machine.
#include "published.h"

#include <fmt/format.h>

#include <cmath>
#include <string>
#include <vector>

#include "../tuning/known_machine.h"
#include "simulation/closed_loop.h"
#include "trajectory/jerk_limited.h"
#include "tuning/learning.h"
#include "tuning/loops_study.h"

namespace evenbeam::checks {
namespace {

using machine::CoordinateLoop;
using servo::Structure;
using servo::StructureSettings;

constexpr double kPeriod_s = 1.0 / 4000;

struct Known {
  identification::Identified id = known_fit();
  tuning::ForecastMove move{
      .name = "0.8 m",
      .carriage_y_m = -0.7,
      .reference = simulation::track({trajectory::plan_move(0, 0.8, {1.5, 10, 200})}, 0.2, kPeriod_s)};
  tuning::ForecastOptions options{.draws = 0, .count_a_m = 1e-7, .count_b_m = 1e-7};
  Known() { id.plant.carriage_y_m = -0.7; }
};

CoordinateLoop loop(double hz, double mass_kg) {
  const double w = 2 * 3.14159265358979 * hz;
  return {w / 2, mass_kg * w, 5 / w, 0, {}};
}

StructureSettings loops(const Known& k, Structure structure, bool share, bool friction) {
  const double mass = dynamics::total_mass_kg(k.id.plant);
  StructureSettings s{.structure = structure};
  machine::Settings& c = s.common;
  c.period_s = kPeriod_s, c.peak_force_a_n = c.peak_force_b_n = 5000;
  c.mean = loop(20, mass), c.skew = loop(27.5, mass / 4);
  s.side_a = s.side_b = loop(20, mass / 2);
  c.mass_ff_kg = mass, c.share = share ? dynamics::balanced_share(k.id.plant) : 0.5;
  if (friction) c.coulomb_ff_a_n = 40, c.coulomb_ff_b_n = 70;
  return s;
}

double peak(const Known& k, const StructureSettings& s) {
  return tuning::run_move(k.move, k.id.plant, s, k.options).peak_skew_error_m;
}

double learned(const Known& k, const StructureSettings& s, int trials) {
  return tuning::rehearse_learning(k.move, k.id.plant, k.id, s.common, trials + 1, k.options).back().peak_skew_m;
}

void row(const std::string& published, const std::string& change, double before, double after) {
  fmt::print("| {} | {} | {:.1f} to {:.1f} um | {:+.0f} % |\n", published, change, 1e6 * before, 1e6 * after,
             100 * (after / before - 1));
}

}  // namespace

int published() {
  const Known k;
  Known smooth;
  smooth.id.plant.a.coulomb_n = smooth.id.plant.b.coulomb_n = 0;
  const auto asked = [&](Structure s, bool share, bool friction) { return peak(k, loops(k, s, share, friction)); };
  const double sides = asked(Structure::independent, false, false);
  fmt::print("| published | the same change here | peak skew | change |\n|---|---|---|---|\n");
  row("-70 %: force feed-forward by the load's centroid, added to a state feedback (simulation, heavy load, 2024)",
      "mean and skew loops: share 1/2, then the place's; no friction feed-forward",
      asked(Structure::mean_skew, false, false), asked(Structure::mean_skew, true, false));
  row("-60 %: the same against allocation of thrust alone",
      "independent sides with the share alone, then mean and skew with share and friction",
      asked(Structure::independent, true, false), asked(Structure::mean_skew, true, true));
  row("-97.75 %: dynamic against static decoupling (precision stage, experiment, 2024)",
      "no friction: mean and skew loops, share 1/2, then the place's (static; its baseline is not ours)",
      peak(smooth, loops(smooth, Structure::mean_skew, false, false)),
      peak(smooth, loops(smooth, Structure::mean_skew, true, false)));
  row("-46.7 %: cross-coupling in a sliding mode, uneven load (two-motor rig, experiment, 2025)",
      "independent sides, then cross-coupled, share 1/2", sides, asked(Structure::cross_coupled, false, false));
  const auto study = [&](const std::string& says, const std::string& what, double after) {
    row("study of this machine: " + says, "independent sides, share 1/2, then " + what, sides, after);
  };
  study("4.6 times worse", "B follows A's position", asked(Structure::follower, false, false));
  study("-45 %", "cross-coupled", asked(Structure::cross_coupled, false, false));
  study("-82 %", "mean and skew, the place's share", asked(Structure::mean_skew, true, false));
  study("-92 %", "the place's share and each side's friction", asked(Structure::independent, true, true));
  study("-93 %", "mean and skew, share and friction", asked(Structure::mean_skew, true, true));
  study("-96 %", "cross-coupled, share and friction", asked(Structure::cross_coupled, true, true));
  study("-99 %", "mean and skew, share and friction, 14 trials of learning",
        learned(k, loops(k, Structure::mean_skew, true, true), 14));
  const tuning::Proposal p = tuning::propose(k.id, known_papers());
  if (p.found)
    study("-", "what station loops proposes",
          peak(k, {.common = tuning::at_place(p, p.settings, k.move.carriage_y_m)}));
  return 0;
}

}  // namespace evenbeam::checks
