#pragma once
// Robustness of the 2x2 sampled loop as one number over frequency: the largest singular value of
//   output side  S_o = (I + G C)^-1,     input side  S_i = D^-1 (I + C G)^-1 D,  D = diag(peak forces),
// G positions per commanded force with hold and delay, C the loop law. Its peak is the inverse of the distance to
// instability in the worst direction: gain and phase margins of each side and of both at once follow from it
// (gain >= M/(M-1), phase >= 2 asin(1/(2M)): Astrom and Murray, Feedback Systems, ch. 10, from memory).
// From a model G is exact on any grid; from a measured response only at its lines.
#include <functional>
#include <vector>

#include "dynamics/plant.h"
#include "machine/settings.h"
#include "math/complex2x2.h"

namespace evenbeam::tuning {

struct PeakSensitivity {
  double peak = 0;  // the worse of both sides; infinite where I + GC is singular on the grid
  double at_hz = 0;
  bool on_input_side = false;
};

// g[i] at hz[i].
PeakSensitivity peak_sensitivity(const std::vector<double>& hz, const std::vector<math::Complex2x2>& g,
                                 const machine::Settings& settings);

// Model: log grid from 0.2 Hz to just below the Nyquist frequency, refined around the peak by golden section.
PeakSensitivity peak_sensitivity(const dynamics::Plant& plant, const machine::Settings& settings);

// The same with another law of the two sides, C at angular frequency in rad/s; period and peak forces of `settings`.
PeakSensitivity peak_sensitivity(const dynamics::Plant& plant, const machine::Settings& settings,
                                 const std::function<math::Complex2x2(double)>& law);

// The worse side's largest singular value at one frequency, model.
double sensitivity_at(const dynamics::Plant& plant, const machine::Settings& settings, double hz);

}  // namespace evenbeam::tuning
