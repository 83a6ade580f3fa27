#pragma once
// The fastest way known here to the responses of bench/sweep_bench.cpp, for comparison only: a bridge of two
// coordinates on two elastic drives, nothing else, everything by hand, real and imaginary parts in arrays.
#include <cstddef>

namespace evenbeam::bench {

// Masses and springs already turned into the ends' coordinates; per side: motor, spring, damper, force scale.
struct HandPlant {
  double mass_aa = 0, mass_ab = 0, mass_bb = 0;
  double stiffness_aa = 0, stiffness_ab = 0, stiffness_bb = 0;
  double damping_aa = 0, damping_ab = 0, damping_bb = 0;
  double motor[2] = {0, 0}, spring[2] = {0, 0}, damper[2] = {0, 0}, scale[2] = {1, 1};
};

// out: eight arrays of `count` (aa, ab, ba, bb; real then imaginary); count a multiple of eight.
void hand_responses(const HandPlant& plant, const double* w, const double* path_real, const double* path_imag,
                    std::size_t count, double* out);

}  // namespace evenbeam::bench
