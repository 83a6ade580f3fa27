#pragma once
// How much each side, and both at once, may change before the loops ring, at the motors' inputs:
//   S = (I + C G)^-1;  one side, the other's loop closed: L_k = (1 - S_kk)/S_kk (math/loop_margins.h)
//   both at once, each with its own complex factor: alpha = 1/max mu(S - I/2), mu for two scalars, exact
// One side dropping: the least factor of its force, the other as it is, that leaves exact eigenvalues inside the
// circle (a weak amplifier, a loose coupling). A dead side (factor 0) is station trips' matter.
// On the model and, with the same function, on measured lines.
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"
#include "math/complex2x2.h"
#include "math/loop_margins.h"

namespace evenbeam::tuning {

struct Margins {
  math::LoopMargins a, b;         // frequencies in Hz
  double both = 0;                // alpha of both sides at once
  double drop_a = 0, drop_b = 0;  // least factor of one side's force, model only; NaN where not asked
};

Margins margins(const std::vector<double>& hz, const std::vector<math::Complex2x2>& g,
                const machine::Settings& settings);
// Log lines from 0.2 Hz to just below half the rate.
Margins margins(const dynamics::Plant& plant, const machine::Settings& settings);

// Least factor in (0, 1] of one side's force that keeps the loop stable, to 1 %; 0 where all down to 0.01 do; NaN
// where it is unstable as it is.
double least_stable_factor(const dynamics::Plant& plant, const machine::Settings& settings, bool side_a);

}  // namespace evenbeam::tuning
