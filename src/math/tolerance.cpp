#include "math/tolerance.h"

#include <cmath>

#include "base/check.h"
#include "math/student.h"

namespace evenbeam::math {

namespace {

// Half width r with `content` of a standard normal within z +- r; rises with z >= 0.
double half_width_holding(double z, double content) {
  double low = 0, high = z + normal_quantile((1 + content) / 2) + 1;
  for (int i = 0; i < 100 && high - low > 1e-14 * high; ++i) {
    const double r = (low + high) / 2;
    (normal_cdf(z + r) - normal_cdf(z - r) < content ? low : high) = r;
  }
  return (low + high) / 2;
}

// Confidence that mean +- k s holds the content. Simpson over |z| <= 8/sqrt(n), both halves alike.
double confidence_of(double k, int n, double content) {
  const double nu = n - 1, sd = 1 / std::sqrt(double(n));
  constexpr int steps = 200;  // even; the integrand is smooth: error below 1e-10
  double sum = 0;
  for (int i = 0; i <= steps; ++i) {
    const double u = 8.0 * i / steps;
    const double r = half_width_holding(u * sd, content);
    const double density = std::exp(-u * u / 2) / std::sqrt(2 * 3.14159265358979323846);
    const double holds = 1 - chi_square_cdf(nu * r * r / (k * k), nu);
    sum += (i == 0 || i == steps ? 1 : i % 2 == 1 ? 4 : 2) * density * holds;
  }
  return 2 * sum * (8.0 / steps) / 3;
}

}  // namespace

double two_sided_tolerance_factor(int n, double content, double confidence) {
  base::check(n >= 2 && content > 0 && content < 1 && confidence > 0 && confidence < 1,
              "a tolerance interval exists");
  double low = normal_quantile((1 + content) / 2) / 10, high = 2 * low;
  while (confidence_of(high, n, content) < confidence) high *= 2;
  for (int i = 0; i < 60 && high - low > 1e-10 * high; ++i) {
    const double k = (low + high) / 2;
    (confidence_of(k, n, content) < confidence ? low : high) = k;
  }
  return (low + high) / 2;
}

double extremes_confidence(int n, double content) {
  base::check(n >= 2 && content > 0 && content < 1, "two values or more, a part between 0 and 1");
  return 1 - n * std::pow(content, n - 1) + (n - 1) * std::pow(content, n);
}

int extremes_sample_size(double content, double confidence) {
  int n = 2;
  while (extremes_confidence(n, content) < confidence) ++n;
  return n;
}

}  // namespace evenbeam::math
