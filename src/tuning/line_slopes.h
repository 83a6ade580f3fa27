#pragma once
// The loop at one line: what the gain search asks of it, with its slope by both coordinates' responses (internal to
// tuning). Derived here: C = m (a 1') + s (d d'), a = [share, 1 - share]/2, d = [1, -1], so that each coordinate is
// of rank one, l r'. With M = I + G C, Z = M^-1, T = Z G, and N = I + C G scaled by peak forces:
//   d(u'T u) = -(u'T l)(r'T u) dc     d(C Z) = (I - C T) l r'Z dc     d ln det M = (r'T l) dc, of N the same
//   sigma_max(M)^2 = h + q, h = |M|_F^2/2, q^2 = h^2 - |det|^2;  S^2 = (h + q)/|det|^2
//   d ln S^2 = dh/q - |det|^2 d ln|det|^2/(2 q (h + q)) - d ln|det|^2,  dh = Re(r'M* G l dc)
#include <array>

#include "math/complex2x2.h"
#include "tuning/gain_search.h"

namespace evenbeam::tuning {

// A value that depends on both coordinates' responses: d value = Re(mean dC_m + skew dC_s).
struct Sloped {
  double value = 0;
  std::array<math::Complex, 2> by{};
};

struct LoopLine {
  const math::Complex2x2& g;  // the plant
  math::Complex mean, skew;   // responses of the law
  double share = 0.5;
  double b_over_a = 1;  // peak forces
};

struct LineSides {
  Sloped outside, inside;  // ln S^2 of the output and of the input side
};
LineSides sides_of(const LoopLine& line);

struct LineEnergies {
  Sloped skew, mean;        // of the moves that a unit fight and a unit of both forces make
  Sloped noise_a, noise_b;  // variances of the outputs
};
LineEnergies energies_of(const LoopLine& line, const SearchLimits& limits);

}  // namespace evenbeam::tuning
