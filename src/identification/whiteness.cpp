#include "identification/whiteness.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::identification {
namespace {

constexpr double kMost = 3, kTwoSided95 = 1.96;

Complex bounded(const Complex& miss) { return miss * std::min(1.0, kMost / std::max(std::abs(miss), 1e-300)); }

}  // namespace

Whiteness line_whiteness(const std::vector<Sides>& misses) {
  double product = 0, first = 0, second = 0;
  for (std::size_t i = 0; i + 1 < misses.size(); ++i)
    for (std::size_t k = 0; k < 4; ++k) {
      const Complex a = bounded(misses[i][k]), b = bounded(misses[i + 1][k]);
      product += a.real() * b.real() + a.imag() * b.imag();
      first += std::norm(a);
      second += std::norm(b);
    }
  if (!(first > 0 && second > 0)) return {};
  const double products = 2 * (static_cast<double>(misses.size()) - 1);
  return {product / std::sqrt(first * second), std::min(1.0, kTwoSided95 / std::sqrt(2 * products))};
}

}  // namespace evenbeam::identification
