#pragma once
// A function of frequency over a box, to first order with a bound of the rest (docs/certificate.md). Internal to
// tuning.
#include <complex>

#include "servo/loop_law.h"
#include "tuning/certificate.h"

namespace evenbeam::tuning {

using Complex = std::complex<double>;

// f(w) = middle + slope (w - w0) + rest, |rest| <= radius over the box; `away` is the box's half width in w.
struct Ball {
  Complex middle, slope = 0;
  double radius = 0;
  double largest(double away) const { return std::abs(middle) + std::abs(slope) * away + radius; }
};
Ball ball(Span constant);
Ball product(const Ball& a, const Ball& b, double away);
Ball sum(const Ball& a, const Ball& b);
Ball times(double factor, const Ball& a);

// C_q of one coordinate times its integral's (z - 1), so that it is finite at rest; about z = exp(j w0 T).
Ball law_ball(const servo::CoordinateLaw& law, Complex z, double away);
// Delay, current lag and hold.
Ball path_ball(double middle, double away, Span delay, Span lag, double period);

}  // namespace evenbeam::tuning
