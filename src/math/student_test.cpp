#include "math/student.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam::math;

TEST_CASE("quantiles put back give their probability") {
  Random random(20240501);
  for (int i = 0; i < 400; ++i) {
    const double p = random.uniform(), degrees = std::exp(random.uniform(-0.5, 6));
    INFO("seed 20240501, draw ", i, " p ", p, " degrees ", degrees);
    CHECK(normal_cdf(normal_quantile(p)) == evenbeam::base::test::near(p).epsilon(1e-13));
    CHECK(student_cdf(student_quantile(p, degrees), degrees) == evenbeam::base::test::near(p).epsilon(1e-11));
    CHECK(chi_square_cdf(chi_square_quantile(p, degrees), degrees) == evenbeam::base::test::near(p).epsilon(1e-11));
    CHECK(student_quantile(1 - p, degrees) ==
          evenbeam::base::test::near(-student_quantile(p, degrees)).epsilon(1e-9));
  }
}

TEST_CASE("closed forms: t with 1 and 2 degrees, chi-square with 2") {
  for (const double p : {1e-6, 0.01, 0.3, 0.5, 0.9, 0.975, 0.9999}) {
    INFO("p ", p);
    CHECK(student_quantile(p, 1) ==
          evenbeam::base::test::near(-1 / std::tan(3.14159265358979323846 * p)).epsilon(1e-9).scale(1));
    const double a = 2 * p - 1;
    CHECK(student_quantile(p, 2) ==
          evenbeam::base::test::near(a * std::sqrt(2 / (1 - a * a))).epsilon(1e-9).scale(1));
    CHECK(chi_square_quantile(p, 2) == evenbeam::base::test::near(-2 * std::log1p(-p)).epsilon(1e-10));
  }
}

TEST_CASE("draws: the stream is fixed, its moments are right") {
  Random random(1);
  CHECK(Random(1).next() != Random(2).next());  // the stream itself is held in checks/math
  double sum = 0, squares = 0, fourth = 0;
  const int count = 200000;
  for (int i = 0; i < count; ++i) {
    const double z = random.normal();
    sum += z;
    squares += z * z;
    fourth += z * z * z * z;
  }
  // Five standard errors of each moment.
  CHECK(std::abs(sum / count) < 5 / std::sqrt(count));
  CHECK(std::abs(squares / count - 1) < 5 * std::sqrt(2.0 / count));
  CHECK(std::abs(fourth / count - 3) < 5 * std::sqrt(96.0 / count));
}

TEST_CASE("no answer outside the range") {
  CHECK(std::isnan(normal_quantile(1.5)));
  CHECK(std::isnan(student_quantile(0.9, -1)));
  CHECK(std::isinf(student_quantile(1, 3)));
  CHECK(student_quantile(0.975, INFINITY) == evenbeam::base::test::near(1.959963984540054).epsilon(1e-14));
}
