// Tolerance factors against a second way (scipy 1.10: chi-square and adaptive quadrature, make_tolerance_data.py), a
// published worked example, and Wilks' sample sizes. The tables of ISO 16269-6 themselves were not at hand.
#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>

#include "base/near_test.h"
#include "math/tolerance.h"

using namespace evenbeam::math;

TEST_CASE("two-sided factors agree with scipy to 1e-8") {
  std::ifstream in(std::string(EVENBEAM_SOURCE_DIR) + "/checks/math/data/tolerance.csv");
  int rows = 0;
  for (std::string line; std::getline(in, line);) {
    if (line.starts_with('#')) continue;
    std::istringstream cells(line);
    double n, content, confidence, factor;
    char comma;
    cells >> n >> comma >> content >> comma >> confidence >> comma >> factor;
    CAPTURE(line);
    CHECK(two_sided_tolerance_factor(int(n), content, confidence) ==
          evenbeam::base::test::near(factor).epsilon(1e-8));
    ++rows;
  }
  CHECK(rows == 18);
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3 (from memory): n = 43, content 0.90, confidence 0.99,
// k = 2.217 by an approximation; the exact factor is 2.2228, a part in four hundred more.
TEST_CASE("worked example of a handbook") {
  CHECK(two_sided_tolerance_factor(43, 0.90, 0.99) == evenbeam::base::test::near(2.217).epsilon(3e-3));
}

// Wilks 1941 (from memory): 93 values for 95 % content at 95 % confidence, 473 for 99 % at 95 %.
TEST_CASE("extremes of a sample") {
  CHECK(extremes_sample_size(0.95, 0.95) == 93);
  CHECK(extremes_sample_size(0.99, 0.95) == 473);
}

// Almost no content c: the half width that holds it about z is r = c/(2 phi(z)), to c^2. Of three values chi-square
// has two degrees of freedom, P(chi^2 > q) = exp(-q/2), and the mean lies at z of variance 1/3, so that k is right
// where
//   E exp(-r^2/k^2) = confidence,   r^2 = c^2 pi exp(z^2)/2
// The trapezium rule over a bell is right to rounding.
TEST_CASE("the factor of a very small content is as exact as any: put back into the equation of three values") {
  const double content = 1e-4, pi = std::numbers::pi;
  for (const double confidence : {0.5, 0.95}) {
    const double k = two_sided_tolerance_factor(3, content, confidence);
    double held = 0;
    for (int i = -400; i <= 400; ++i) {
      const double z = 0.01 * i, square = content * content * pi * std::exp(z * z) / 2;
      held += 0.01 * std::sqrt(3 / (2 * pi)) * std::exp(-3 * z * z / 2) * std::exp(-square / (k * k));
    }
    CAPTURE(confidence);
    CHECK(held == evenbeam::base::test::near(confidence).epsilon(1e-8));
  }
}
