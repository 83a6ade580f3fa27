#pragma once
// A function of frequency over a box, to first order with a bound of the rest (docs/certificate.md). Internal to
// tuning.
#include <complex>

#include "servo/loop_law.h"
#include "tuning/certificate.h"

namespace evenbeam::tuning {

using Complex = std::complex<double>;

// f(w) = middle + slope (w - w0) + joint part + rest, |rest| <= radius over the box; `away` is the box's half width
// in w. The joint part is linear in the fit's joint directions and the same all over the box, at most `joint`.
struct Ball {
  Complex middle, slope = 0;
  double radius = 0, joint = 0;
  double largest(double away) const { return std::abs(middle) + std::abs(slope) * away + radius + joint; }
  double off_middle(double away) const { return std::abs(slope) * away + radius + joint; }
};
Ball ball(Span constant);
// The product's joint part is a.joint-part b.middle + a.middle b.joint-part.
Ball product(const Ball& a, const Ball& b, double away);
Ball sum(const Ball& a, const Ball& b);
Ball times(double factor, const Ball& a);

// C_q of one coordinate times its integral's (z - 1), so that it is finite at rest; about z = exp(j w0 T).
Ball law_ball(const servo::CoordinateLaw& law, Complex z, double away);
// Delay, current lag and hold; the joint part by the doubt of both delays.
struct Path {
  Ball ball;
  Complex by_delay, by_lag;  // of p, where fitted
};
struct Delays {
  double delay_s = 0, lag_s = 0;            // fitted
  double delay_slope = 0, lag_slope = 0;    // d/dp
  double delay_reach = 0, lag_reach = 0;    // of p
  double delay_rest_s = 0, lag_rest_s = 0;  // beyond the slope
  double lag_low_s = 0, lag_high_s = 0;     // over the whole doubt
  double together_s = 0;                    // |change of both added up|, at most
};
Path path_ball(double middle, double away, const Delays& delays, double period);

}  // namespace evenbeam::tuning
