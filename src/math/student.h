#pragma once
// Normal, Student t and chi-square: distribution functions and quantiles, for intervals.
//   normal quantile: rational approximations, about 1e-16 relative [Wichura 1988, AS 241];
//   t:          P(T <= t) = 1 - I_x(n/2, 1/2)/2 for t >= 0, x = n/(n + t^2);
//   chi-square: P(X <= x) = P(n/2, x/2), the regularised incomplete gamma function.
// Incomplete functions by series and continued fractions [Abramowitz and Stegun 6.5, 26.5]; quantiles by bracketing
// and bisection-safe Newton on the distribution function, to about 1e-12. `degrees` > 0, need not be whole (effective
// degrees of freedom). Probabilities outside (0, 1) give -inf, inf or NaN.

namespace evenbeam::math {

double normal_cdf(double z);
double normal_quantile(double probability);
double student_cdf(double t, double degrees);
double student_quantile(double probability, double degrees);  // normal where degrees is infinite
double chi_square_cdf(double x, double degrees);
double chi_square_quantile(double probability, double degrees);

// Factor on the standard error for a two-sided interval: student_quantile((1 + level)/2, degrees).
double coverage_factor(double level, double degrees);

}  // namespace evenbeam::math
