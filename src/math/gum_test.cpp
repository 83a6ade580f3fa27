#include "math/gum.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/input_error.h"
#include "base/near_test.h"
#include "math/student.h"

namespace evenbeam::math {

TEST_CASE("a linear model: closed form, correlation, degrees of freedom") {
  const Model model = [](const std::vector<double>& x) { return 2 * x[0] - 3 * x[1] + 1; };
  const std::vector<UncertainInput> inputs{{"a", 5, 0.1, 4}, {"b", 1, 0.2, 9}};
  const auto free = propagate(model, inputs);
  CHECK(free.value == base::test::near(8));
  CHECK(free.standard_uncertainty == base::test::near(std::sqrt(0.04 + 0.36)));
  CHECK(free.second_order_uncertainty == base::test::near(free.standard_uncertainty));
  CHECK(free.degrees == base::test::near(0.16 / (0.0016 / 4 + 0.1296 / 9)));
  Matrix r(2, 2, 0.5);
  r(0, 0) = r(1, 1) = 1;
  CHECK(propagate(model, inputs, r).standard_uncertainty == base::test::near(std::sqrt(0.04 + 0.36 - 0.12)));
}

TEST_CASE("curvature: a product of two normal inputs, whose variance is known exactly") {
  const Model product = [](const std::vector<double>& x) { return x[0] * x[1]; };
  const std::vector<UncertainInput> inputs{{"a", 2, 0.5}, {"b", -1, 0.7}};
  // var(ab) = a^2 ub^2 + b^2 ua^2 + ua^2 ub^2
  CHECK(propagate(product, inputs).second_order_uncertainty ==
        base::test::near(std::sqrt(4 * 0.49 + 0.25 + 0.25 * 0.49)).epsilon(1e-12));
  const Model square = [](const std::vector<double>& x) { return x[0] * x[0]; };
  // var(a^2) = 4 a^2 u^2 + 2 u^4
  CHECK(propagate(square, {{"a", 2, 0.5}}).second_order_uncertainty ==
        base::test::near(std::sqrt(4 * 4 * 0.25 + 2 * 0.0625)).epsilon(1e-12));
}

TEST_CASE("Monte Carlo against closed forms for each shape, and the same seed gives the same digits") {
  const Model one = [](const std::vector<double>& x) { return x[0]; };
  constexpr std::uint64_t seed = 42;
  constexpr long trials = 100000;
  for (const Shape shape : {Shape::normal, Shape::student, Shape::rectangular, Shape::arcsine}) {
    const UncertainInput input{"x", 3, 0.2, shape == Shape::student ? 12 : 1e9, shape};
    const auto run = monte_carlo(one, {input}, trials, seed);
    CAPTURE(int(shape));
    CHECK(std::abs(run.mean - 3) < 4 * 0.2 / std::sqrt(double(trials)));
    CHECK(run.standard_deviation == base::test::near(0.2).epsilon(0.02));
    const double half = shape == Shape::normal    ? 1.959964 * 0.2
                        : shape == Shape::student ? 2.178813 * 0.2 * std::sqrt(10.0 / 12)
                        : shape == Shape::arcsine ? 0.2 * std::sqrt(2.0) * std::sin(0.95 * 3.14159265 / 2)
                                                  : 0.95 * 0.2 * std::sqrt(3.0);
    CHECK(run.upper - 3 == base::test::near(half).epsilon(0.02));
    CHECK(3 - run.lower == base::test::near(half).epsilon(0.02));
    CHECK(monte_carlo(one, {input}, 1000, seed).mean == monte_carlo(one, {input}, 1000, seed).mean);
  }
}

TEST_CASE("inputs that cannot be are refused together") {
  const Model one = [](const std::vector<double>& x) { return x[0]; };
  try {
    propagate(one, {{"a", 1, -0.1}, {"b", NAN, 1}});
    FAIL("accepted");
  } catch (const base::InputError& error) {
    CHECK(error.troubles().size() == 2);
  }
}

}  // namespace evenbeam::math
