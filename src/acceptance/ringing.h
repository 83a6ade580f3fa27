#pragma once
// Ringing in a stretch of an error signal: the one damped oscillation that explains most of it.
//   e(t) = c0 + c1 t + exp(-delta t) (a cos w t + b sin w t)
// w and delta by search around the highest line of the Hann-windowed, zero-padded spectrum (each trial is a linear
// least-squares fit of c0, c1, a, b on block averages with at least 24 points a cycle), because cruises and rests
// often show two cycles only, which a spectrum alone cannot resolve. What it explains beyond the line c0 + c1 t is
// given, and it counts as ringing only where that is most of the signal, over 1.5 cycles or more, lightly damped and
// above the noise.
#include <cstddef>
#include <vector>

namespace evenbeam::acceptance {

struct Oscillation {
  bool fitted = false;  // false: stretch too short or without content
  double hz = 0;
  double decay_per_s = 0;  // delta; negative = grows
  double damping = 0;      // delta / sqrt(delta^2 + w^2)
  double amplitude_m = 0;  // at the middle of the stretch
  double explained = 0;    // 0..1 of the variance left by the line c0 + c1 t
  double cycles = 0;       // in the stretch
};

Oscillation strongest_oscillation(const std::vector<double>& x, std::size_t from, std::size_t to, double period_s);

struct RingingRule {
  double least_cycles = 1.5, least_explained = 0.6;
  double most_damping = 0.3;  // more dies within a cycle or so: ordinary settling
  double noise_m = 0;         // amplitude must exceed it
};
bool rings(const Oscillation& oscillation, const RingingRule& rule);

}  // namespace evenbeam::acceptance
