#include "math/eigenvalues.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam::math;

TEST_CASE("companion matrix: the roots put in come out") {
  // (x - 1)(x + 2)(x^2 + 2 x + 5) = x^4 + 3 x^3 + 5 x^2 + x - 10
  Matrix a(4, 4);
  const double last[] = {10, -1, -5, -3};
  for (std::size_t i = 0; i < 4; ++i) {
    a(i, 3) = last[i];
    if (i > 0) a(i, i - 1) = 1;
  }
  const auto values = eigenvalues(a);
  REQUIRE(values.size() == 4);
  CHECK(std::abs(values[0] - std::complex<double>(-2, 0)) < 1e-13);
  CHECK(std::abs(values[1] - std::complex<double>(-1, -2)) < 1e-13);
  CHECK(std::abs(values[2] - std::complex<double>(-1, 2)) < 1e-13);
  CHECK(std::abs(values[3] - std::complex<double>(1, 0)) < 1e-13);
  CHECK(spectral_radius(a) == evenbeam::base::test::near(std::sqrt(5.0)).epsilon(1e-13));
}

TEST_CASE("units of a servo loop (states scaled by 2^-30 to 2^30) do not move the eigenvalues") {
  Random random(51);
  for (int round = 0; round < 50; ++round) {
    const std::size_t n = 2 + random.below(14);
    Matrix a(n, n), scaled(n, n);
    std::vector<double> scale(n);
    for (double& s : scale) s = std::ldexp(1.0, static_cast<int>(random.below(61)) - 30);
    for (std::size_t i = 0; i < n; ++i)
      for (std::size_t j = 0; j < n; ++j) {
        a(i, j) = random.normal();
        scaled(i, j) = a(i, j) * scale[i] / scale[j];
      }
    INFO("seed 51, round ", round, " order ", n);
    CHECK(spectral_radius(scaled) == evenbeam::base::test::near(spectral_radius(a)).epsilon(1e-10));
  }
}

TEST_CASE("no answer from a matrix that is not finite") {
  Matrix a(2, 2, 1.0);
  a(0, 1) = std::nan("");
  CHECK(eigenvalues(a).empty());
  CHECK(std::isnan(spectral_radius(a)));
}
