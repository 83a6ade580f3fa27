#pragma once
// Modes of the machine from its measured 2x2 response: frequency, damping ratio, relative motion of the sides.
//
// Accelerance with the dead time taken out, H = -omega^2 G exp(s delay), is fitted by rational functions of rising
// order (vector_fit.h). A pole pair is called a mode where it
//   - stays within 1 % in frequency (and 0.005 or 30 % in damping) over three orders running,
//   - lies in the band, stable, with a damping ratio below 0.3,
//   - carries at its top at least `least_part` of the response there and five times its standard deviation, and
//     explains, over all lines, far more than a pole following noise would,
//   - moves as one shape: its residue matrix is nearly of rank one.
// Frequency and damping are then polished, with all residues and the delay, by Gauss-Newton on the same errors; their
// covariance comes from that step, scaled by what the model leaves (so unmodelled but scattered effects widen it).
// The delay that serves the fit best is searched where none is given. It is no measurement of the dead time: poles at
// the band's end trade against it, and hold, current lag and what lies beyond the band all go into it.
// Rigid-body motion and friction are not modes: they end up in D and in poles below the band.
// Sources: vector_fit.h; stabilisation across orders: common practice in modal analysis, e.g. Ewins, Modal Testing.
#include <optional>
#include <string>
#include <vector>

#include "signal/frequency_response.h"

namespace evenbeam::signal {

struct ModeOptions {
  double from_hz = 0, to_hz = 0;  // band; 0 = all lines of the response
  std::size_t most_pairs = 10;    // highest order tried
  std::optional<double> delay_s;  // taken as known where given
  double longest_delay_s = 1e-3;  // else searched in 0 .. this
  double least_coherence = 0.5;   // lines below it on both sides are left out
  double model_spread = 0.003;    // error allowed to the model, part of the largest singular value of H: keeps
                                  // very clean lines from ruling the fit
  double least_part = 0.03;       // of the largest singular value of H at the mode's frequency
};

struct Mode {
  double hz = 0, hz_sd = 0;  // undamped natural frequency |p|/2 pi
  double damping_ratio = 0, damping_ratio_sd = 0;
  math::Complex shape_a, shape_b;  // relative motion, the larger one = 1; same sign: together, opposite: yawing
  double shape_sd = 0;             // of the smaller one
  math::Complex2x2 residue;        // of G at the pole, m/N rad/s, dead time taken out
  double rank_one = 0;             // 1 - s2/s1 of the residue matrix; 1 = one clean shape
  double coherence = 0;            // lesser of both sides at the nearest line
  std::size_t seen_in_orders = 0;
};

struct ModesFound {
  bool done = false;
  std::string reason;         // where not
  std::vector<Mode> modes;    // rising in frequency; may be empty: an honest none
  double delay_s = 0;         // effective, see above
  double relative_error = 0;  // root of mean square of (fit - H) over that of H, lines used
  std::size_t pairs = 0;      // order of the model reported
  std::size_t lines = 0;      // used
};

ModesFound find_modes(const Response& sides, const ModeOptions& options = {});

}  // namespace evenbeam::signal
