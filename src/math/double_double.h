#pragma once
// Sums and products carried in two doubles (about 32 digits), for residuals that nearly cancel.
//   a + b = s + e exactly (two_sum), a * b = p + e exactly (two_product, by fused multiply-add).
// Assumes round to nearest and no value-changing compiler options. Source: Knuth; Dekker 1971.
#include <cmath>

namespace evenbeam::math {

struct DoubleDouble {
  double high = 0, low = 0;
};

inline DoubleDouble two_sum(double a, double b) {
  const double s = a + b, bb = s - a;
  return {s, (a - (s - bb)) + (b - bb)};
}

inline DoubleDouble two_product(double a, double b) {
  const double p = a * b;
  return {p, std::fma(a, b, -p)};
}

// sum += a * b
inline void add_product(DoubleDouble& sum, double a, double b) {
  const DoubleDouble p = two_product(a, b);
  const DoubleDouble s = two_sum(sum.high, p.high);
  const double low = s.low + sum.low + p.low;
  sum.high = s.high + low;
  sum.low = low - (sum.high - s.high);
}

inline void add(DoubleDouble& sum, double a) { add_product(sum, a, 1.0); }
inline double to_double(const DoubleDouble& x) { return x.high + x.low; }

}  // namespace evenbeam::math
