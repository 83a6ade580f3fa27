#pragma once
// Oscillating modes of the generator's machine, loops open, with its damping: eigenvalues of the first-order form.
// (Its truth.json gives the frequencies without damping; near neighbours with a few percent of damping differ from
// those by more than a measured response leaves open.)
#include <complex>
#include <vector>

#include "gantry.h"

namespace evenbeam::checks {

struct TrueMode {
  double hz = 0, damping = 0;
  std::complex<double> a, b;  // movement of what the feedback sees, the larger one 1
};
std::vector<TrueMode> true_modes(const generator::TrueGantry& gantry, bool feedback_on_motor);

}  // namespace evenbeam::checks
