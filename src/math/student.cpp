#include "math/student.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace evenbeam::math {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double tiny = 1e-300;

double polynomial(const std::array<double, 8>& c, double x) {
  double sum = c[7];
  for (int i = 6; i >= 0; --i) sum = sum * x + c[static_cast<std::size_t>(i)];
  return sum;
}

// Natural logarithm by plain arithmetic, so that draws are the same on every machine: x = 2^e m,
// ln m = 2 atanh((m - 1)/(m + 1)), m in sqrt(1/2) .. sqrt(2): 12 terms leave under 1e-18.
double plain_log(double x) {
  int exponent = 0;
  double m = std::frexp(x, &exponent);
  if (m < 0.70710678118654752) {
    m *= 2;
    --exponent;
  }
  const double s = (m - 1) / (m + 1), s2 = s * s;
  double sum = 0;
  for (int k = 23; k >= 1; k -= 2) sum = sum * s2 + 1.0 / k;
  return 2 * s * sum + exponent * 0.69314718055994530942;
}

// Continued fraction of the incomplete beta function, modified Lentz.
double beta_fraction(double x, double a, double b) {
  double c = 1, d = 1 - (a + b) * x / (a + 1);
  d = 1 / (std::abs(d) < tiny ? tiny : d);
  double h = d;
  for (int m = 1; m < 10000; ++m) {
    const double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 + even * d;
    c = 1 + even / c;
    d = 1 / (std::abs(d) < tiny ? tiny : d);
    h *= d * (std::abs(c) < tiny ? tiny : c);
    const double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 + odd * d;
    c = 1 + odd / c;
    d = 1 / (std::abs(d) < tiny ? tiny : d);
    const double step = d * (std::abs(c) < tiny ? tiny : c);
    h *= step;
    if (std::abs(step - 1) < 1e-15) break;
  }
  return h;
}

// I_x(a, b), y = 1 - x given apart so that neither end loses digits.
double incomplete_beta(double x, double y, double a, double b) {
  if (x <= 0) return 0;
  if (y <= 0) return 1;
  const double front =
      std::exp(std::lgamma(a + b) - std::lgamma(a) - std::lgamma(b) + a * std::log(x) + b * std::log(y));
  if (x < (a + 1) / (a + b + 2)) return front * beta_fraction(x, a, b) / a;
  return 1 - front * beta_fraction(y, b, a) / b;
}

// P(a, x), the regularised lower incomplete gamma function.
double incomplete_gamma(double a, double x) {
  if (x <= 0) return 0;
  const double front = std::exp(a * std::log(x) - x - std::lgamma(a));
  if (x < a + 1) {
    double term = 1 / a, sum = term;
    for (int n = 1; n < 100000 && term > 1e-17 * sum; ++n) sum += term *= x / (a + n);
    return front * sum;
  }
  double b = x + 1 - a, c = 1 / tiny, d = 1 / b, h = d;
  for (int n = 1; n < 100000; ++n) {
    const double an = -n * (n - a);
    b += 2;
    d = an * d + b;
    d = 1 / (std::abs(d) < tiny ? tiny : d);
    c = b + an / c;
    c = std::abs(c) < tiny ? tiny : c;
    h *= d * c;
    if (std::abs(d * c - 1) < 1e-16) break;
  }
  return 1 - front * h;
}

// The x in (low, high) with cdf(x) = p, cdf rising: regula falsi steps kept inside a shrinking bracket, bisection
// when they are slow.
template <class Cdf>
double solve_rising(Cdf cdf, double p, double low, double high) {
  double at_low = cdf(low) - p, at_high = cdf(high) - p;
  for (int i = 0; i < 200 && high - low > 1e-15 * std::max(std::abs(low), std::abs(high)); ++i) {
    double x = i % 3 == 2 ? 0.5 * (low + high) : low - at_low * (high - low) / (at_high - at_low);
    if (!(x > low && x < high)) x = 0.5 * (low + high);
    const double at = cdf(x) - p;
    if (at == 0) return x;
    (at < 0 ? low : high) = x;
    (at < 0 ? at_low : at_high) = at;
  }
  return 0.5 * (low + high);
}

}  // namespace

double normal_cdf(double z) { return 0.5 * std::erfc(-z * 0.70710678118654752440); }

double normal_quantile(double probability) {
  constexpr std::array<double, 8> a = {3.3871328727963666080,   1.3314166789178437745e2, 1.9715909503065514427e3,
                                       1.3731693765509461125e4, 4.5921953931549871457e4, 6.7265770927008700853e4,
                                       3.3430575583588128105e4, 2.5090809287301226727e3};
  constexpr std::array<double, 8> b = {1.0,
                                       4.2313330701600911252e1,
                                       6.8718700749205790830e2,
                                       5.3941960214247511077e3,
                                       2.1213794301586595867e4,
                                       3.9307895800092710610e4,
                                       2.8729085735721942674e4,
                                       5.2264952788528545610e3};
  constexpr std::array<double, 8> c = {1.42343711074968357734,    4.63033784615654529590,   5.76949722146069140550,
                                       3.64784832476320460504,    1.27045825245236838258,   2.41780725177450611770e-1,
                                       2.27238449892691845833e-2, 7.74545014278341407640e-4};
  constexpr std::array<double, 8> d = {1.0,
                                       2.05319162663775882187,
                                       1.67638483018380384940,
                                       6.89767334985100004550e-1,
                                       1.48103976427480074590e-1,
                                       1.51986665636164571966e-2,
                                       5.47593808499534494600e-4,
                                       1.05075007164441684324e-9};
  constexpr std::array<double, 8> e = {
      6.65790464350110377720,    5.46378491116411436990,    1.78482653991729133580,    2.96560571828504891230e-1,
      2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7};
  constexpr std::array<double, 8> f = {1.0,
                                       5.99832206555887937690e-1,
                                       1.36929880922735805310e-1,
                                       1.48753612908506148525e-2,
                                       7.86869131145613259100e-4,
                                       1.84631831751005468180e-5,
                                       1.42151175831644588870e-7,
                                       2.04426310338993978564e-15};
  if (!(probability >= 0 && probability <= 1)) return nan;
  if (probability == 0) return -infinity;
  if (probability == 1) return infinity;
  const double q = probability - 0.5;
  if (std::abs(q) <= 0.425) {
    const double r = 0.180625 - q * q;
    return q * polynomial(a, r) / polynomial(b, r);
  }
  const double r = std::sqrt(-plain_log(q < 0 ? probability : 1 - probability));
  const double z =
      r <= 5 ? polynomial(c, r - 1.6) / polynomial(d, r - 1.6) : polynomial(e, r - 5) / polynomial(f, r - 5);
  return q < 0 ? -z : z;
}

double student_cdf(double t, double degrees) {
  if (!(degrees > 0)) return nan;
  if (std::isinf(degrees)) return normal_cdf(t);
  if (std::isinf(t)) return t > 0 ? 1 : 0;
  const double sum = degrees + t * t;
  const double tail = 0.5 * incomplete_beta(degrees / sum, t * t / sum, 0.5 * degrees, 0.5);
  return t > 0 ? 1 - tail : tail;
}

double student_quantile(double probability, double degrees) {
  if (!(degrees > 0) || !(probability >= 0 && probability <= 1)) return nan;
  if (probability == 0) return -infinity;
  if (probability == 1) return infinity;
  if (probability == 0.5) return 0;
  if (std::isinf(degrees)) return normal_quantile(probability);
  // By symmetry on the lower side, where small tails keep their digits.
  const double p = std::min(probability, 1 - probability);
  double low = -1;
  while (student_cdf(low, degrees) > p) low *= 2;
  const double t = solve_rising([&](double x) { return student_cdf(x, degrees); }, p, low, 0.0);
  return probability < 0.5 ? t : -t;
}

double chi_square_cdf(double x, double degrees) {
  return degrees > 0 ? incomplete_gamma(0.5 * degrees, 0.5 * x) : nan;
}

double chi_square_quantile(double probability, double degrees) {
  if (!(degrees > 0) || !(probability >= 0 && probability <= 1)) return nan;
  if (probability == 0) return 0;
  if (probability == 1) return infinity;
  double high = degrees;
  while (chi_square_cdf(high, degrees) < probability) high *= 2;
  return solve_rising([&](double x) { return chi_square_cdf(x, degrees); }, probability, 0.0, high);
}

double coverage_factor(double level, double degrees) { return student_quantile(0.5 * (1 + level), degrees); }

}  // namespace evenbeam::math
