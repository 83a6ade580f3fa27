#include "math/state_space.h"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>
#include <random>

#include "base/near_test.h"

using namespace evenbeam;
using Eigen::MatrixXd;

TEST_CASE("exponential: undamped oscillator against cosine and sine, badly scaled") {
  const double w = 2e3, t = 7e-4;
  MatrixXd a(2, 2);
  a << 0, 1, -w * w, 0;
  const MatrixXd e = math::exponential(a * t);
  CHECK(e(0, 0) == base::test::near(std::cos(w * t)).epsilon(1e-13));
  CHECK(e(0, 1) == base::test::near(std::sin(w * t) / w).epsilon(1e-13));
  CHECK(e(1, 0) == base::test::near(-w * std::sin(w * t)).epsilon(1e-13));
}

TEST_CASE("exponential: exp(A) exp(-A) = 1 and exp(2A) = exp(A)^2 for random matrices") {
  std::mt19937_64 draw(11);
  std::normal_distribution<double> normal;
  for (int run = 0; run < 50; ++run) {
    const MatrixXd a = MatrixXd::NullaryExpr(6, 6, [&] { return normal(draw); });
    const MatrixXd e = math::exponential(a);
    CAPTURE(run);
    CHECK((e * math::exponential(-a) - MatrixXd::Identity(6, 6)).cwiseAbs().maxCoeff() < 1e-9);
    CHECK((e * e - math::exponential(2 * a)).cwiseAbs().maxCoeff() < 1e-11 * (e * e).cwiseAbs().maxCoeff());
  }
}

TEST_CASE("hold: free mass") {
  MatrixXd a(2, 2), b(2, 1);
  a << 0, 1, 0, 0;
  b << 0, 1 / 4.0;
  const auto held = math::hold(a, b, 1e-3);
  CHECK(held.f(0, 1) == base::test::near(1e-3).epsilon(1e-15));
  CHECK(held.g(0, 0) == base::test::near(0.5e-6 / 4).epsilon(1e-14));
  CHECK(held.g(1, 0) == base::test::near(1e-3 / 4).epsilon(1e-14));
}

TEST_CASE("eigenvalues: a companion form scaled by 1e8 keeps its roots") {
  // Roots 0.9, 0.5 +- 0.3j, -0.2 of a servo-like matrix; the diagonal scaling runs from 1 to 1e12.
  const std::complex<double> pair(0.5, 0.3);
  MatrixXd block = MatrixXd::Zero(4, 4);
  block(0, 0) = 0.9;
  block(1, 1) = block(2, 2) = pair.real();
  block(1, 2) = pair.imag();
  block(2, 1) = -pair.imag();
  block(3, 3) = -0.2;
  block(0, 1) = 0.3, block(1, 3) = 0.7, block(0, 3) = 0.1;
  Eigen::VectorXd scale(4);
  scale << 1, 1e4, 1e8, 1e12;
  const MatrixXd bad = scale.asDiagonal() * block * scale.cwiseInverse().asDiagonal();
  const auto values = math::eigenvalues(bad);
  CHECK(std::abs(values(0) - 0.9) < 1e-12);
  CHECK(std::abs(std::abs(values(1)) - std::abs(pair)) < 1e-12);
  CHECK(std::abs(values(3) + 0.2) < 1e-12);
  CHECK(math::spectral_radius(bad) == base::test::near(0.9).epsilon(1e-12));
}

TEST_CASE("response: discrete hold of a first-order lag, and series multiplies") {
  const double tau = 0.01, period = 1e-3;
  math::StateSpace lag{MatrixXd::Constant(1, 1, std::exp(-period / tau)),
                       MatrixXd::Constant(1, 1, 1 - std::exp(-period / tau)), MatrixXd::Ones(1, 1),
                       MatrixXd::Zero(1, 1), period};
  const double w = 300;
  const std::complex<double> z = std::polar(1.0, w * period);
  const std::complex<double> expected = (1 - std::exp(-period / tau)) / (z - std::exp(-period / tau));
  CHECK(std::abs(math::response(lag, w)(0, 0) - expected) < 1e-14);
  CHECK(std::abs(math::response(math::series(lag, lag), w)(0, 0) - expected * expected) < 1e-14);
}
