#pragma once
// What a command to one side alone would do to the person's machine: run on the virtual gantry from the stress-free
// attitude, once with A and once with B as the side that gets the command, the worse of both kept.
//   skew       largest |s - s_free| of the bridge ends
//   moment     K_th |s - s_free|/L, what guides and mountings take about z, both ends together (no damping part)
//   force      largest commanded force of a side; a dead side gives none
// Left out: limits of the controller on following error (a trip may end it earlier), brakes, end stops.
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"
#include "rehearsal/rules.h"
#include "rehearsal/virtual_machine.h"
#include "simulation/closed_loop.h"

namespace evenbeam::rehearsal {

// Where the numbers of a consequence may lie, from the machine's doubts: each doubt alone to either end, the changes
// added as roots of sums of squares, up and down apart. Takes the doubts as independent; where they err together (a
// common force scale) the interval is wider than it need be. 95 % for a fitted machine.
struct Spread {
  base::Estimate skew_m, moment_n_m, force_n;
};

struct Consequence {
  OneSided kind = OneSided::nothing;
  bool commanded_a = true;  // the side that got the command, in the worse of both
  double skew_m = 0;
  double moment_n_m = 0;
  double force_n = 0;
  std::optional<Spread> spread;  // empty where nothing is in doubt, or not asked for
  std::string what;              // what was run, with its sizes
  simulation::RunSeries series;  // of the worse one; empty for `nothing`
};
Consequence consequence(const VirtualMachine& machine, const Amounts& amounts, OneSided kind);
// The same with its spread: two further runs for each doubt, of the side that was worse.
Consequence consequence_in_doubt(const VirtualMachine& machine, const Amounts& amounts, OneSided kind);

// "skew up to 0.52 mm (0.48 mm to 0.57 mm) from stress-free, guide moment ..., force up to ..."
std::string in_words(const Consequence& consequence, const std::string& length_unit, const std::string& force_unit);

// One run, for the figure and for hand calculation (one_sided_runs.cpp); and what it is, with its sizes.
std::string what_is_run(const VirtualMachine& machine, const Amounts& amounts, OneSided kind);
simulation::RunSeries one_sided_run(const VirtualMachine& machine, const Amounts& amounts, OneSided kind,
                                    bool commanded_a);

// Loops open: forces as given, one value a period, from near x = 0 at `start_skew_m`; its reference stands there.
simulation::RunDescription open_loop(const simulation::Gantry& gantry, double period_s, std::vector<double> force_a_n,
                                     std::vector<double> force_b_n, double start_skew_m, std::uint64_t seed);

// Tied, loops closed, one stroke of `distance_m` with the carriage at y; skew error against its standing value.
struct TiedMove {
  double distance_m = 0.2, speed_m_per_s = 0.3, acceleration_m_per_s2 = 1, jerk_m_per_s3 = 20;
};
// When the reference of the move stands again.
double tied_move_end_s(const TiedMove& move);
simulation::RunSeries tied_move(const VirtualMachine& machine, const machine::Settings& loops, const TiedMove& move,
                                double carriage_y_m);

}  // namespace evenbeam::rehearsal
