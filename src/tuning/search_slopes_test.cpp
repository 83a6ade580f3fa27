#include "tuning/search_slopes.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <utility>

#include "base/near_test.h"
#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"
#include "math/random.h"

namespace evenbeam::tuning {
namespace {

machine::Settings soft() {
  machine::Settings s{.period_s = 1e-4, .share = 0.47, .peak_force_a_n = 2000, .peak_force_b_n = 1500};
  s.mean = {5, 3000, 0.3, 800, {{100, 0.7, 0.6}}};
  s.skew = {5, 700, 0.3, 800, {{100, 0.5, 0.7}, {300, 0.7, 0.7}}};
  return s;
}

std::vector<SearchCase> two_cases() {
  SearchCase c{.share = 0.47};
  const auto model = dynamics::response_model(dynamics::test::full_plant(), 1e-4);
  for (double hz = 1; hz < 4900; hz *= 1.1) {
    const auto g = dynamics::response(model, 2 * std::numbers::pi * hz);
    c.hz.push_back(hz);
    c.g.push_back({g.aa, g.ab, g.ba, g.bb});
  }
  SearchCase seen = c;
  seen.counts_for_cost = false, seen.share = 0.5;
  return {c, seen};
}

}  // namespace

TEST_CASE("the search's slopes are those of differences, at random settings") {
  const auto cases = two_cases();
  const SearchLimits limits{
      .sensitivity = 1.3, .other_gain_sensitivity = 1.4, .noise_n = 1, .count_a_m = 5e-7, .count_b_m = 2e-7};
  const SearchObjective of{.cases = cases, .start = soft(), .limits = limits, .penalty = 10};
  math::Random random(5);
  int judged = 0;
  for (int k = 0; k < 12; ++k) {
    Eigen::VectorXd x(search_variables(of.start));
    for (double& v : x) v = 0.2 * random.normal();
    const ObjectiveValue here = objective(of, x);
    if (!std::isfinite(here.value)) continue;
    ++judged;
    for (Eigen::Index i = 0; i < x.size(); ++i) {
      constexpr double kStep = 1e-5;
      const Eigen::VectorXd step = kStep * Eigen::VectorXd::Unit(x.size(), i);
      const double difference = (objective(of, x + step).value - objective(of, x - step).value) / (2 * kStep);
      CAPTURE(k);
      CAPTURE(i);
      CHECK(std::abs(difference - here.slope[i]) < 1e-5 * (1 + std::abs(difference)));
    }
  }
  CHECK(judged >= 6);
}

// One term at a time far above all others: the skew's energy or the mean's alone are half and half of the cost, but
// noise and sensitivity only count above their limits, each side for itself. What is close to one of them is asked to
// a thousandth of its own slope.
TEST_CASE("slopes where one term alone rules: each side's noise, the sensitivity, ranges, and the cost alone") {
  const auto cases = two_cases();
  machine::Settings start = soft();
  const SearchLimits free{.sensitivity = 60, .other_gain_sensitivity = 60, .noise_n = 1e9};
  const auto judged = [&](SearchLimits limits, double penalty, bool counted = true) {
    auto asked = cases;
    if (!counted) asked = {cases[1]};
    const SearchObjective of{.cases = asked,
                             .start = start,
                             .limits = limits,
                             .penalty = penalty,
                             .departure = 1e-9,
                             .filter_departure = 1e-9};
    const Eigen::VectorXd x = 0.1 * Eigen::VectorXd::LinSpaced(search_variables(of.start), -1, 1);
    const ObjectiveValue here = objective(of, x);
    REQUIRE(std::isfinite(here.value));
    const double size = here.slope.norm();
    CHECK(size > 0.1);
    for (Eigen::Index i = 0; i < x.size(); ++i) {
      constexpr double kStep = 1e-5;
      const Eigen::VectorXd step = kStep * Eigen::VectorXd::Unit(x.size(), i);
      const double difference = (objective(of, x + step).value - objective(of, x - step).value) / (2 * kStep);
      CAPTURE(i);
      CHECK(std::abs(difference - here.slope[i]) < 1e-6 * size + 1e-3 * std::abs(difference));
    }
  };
  judged(free, 0);
  for (const auto& [count_a, count_b] : {std::pair{1e-6, 0.0}, std::pair{0.0, 1e-6}}) {
    SearchLimits noisy = free;
    noisy.count_a_m = count_a, noisy.count_b_m = count_b, noisy.noise_n = 0.1;
    judged(noisy, 1e3);
  }
  SearchLimits sensitive = free;
  sensitive.sensitivity = 1.2;
  judged(sensitive, 1e3, false);
  sensitive = free, sensitive.other_gain_sensitivity = 1.2;
  judged(sensitive, 1e3);
  start.skew.velocity_filter_hz = 10, start.mean.filters[0].zn = 3;  // outside their ranges
  judged(free, 1e3);
}

TEST_CASE(
    "inside its limits the objective is the search's cost; above them it grows as stated; far above, infinite") {
  const auto cases = two_cases();
  SearchLimits limits{
      .sensitivity = 60, .other_gain_sensitivity = 60, .noise_n = 3000, .count_a_m = 5e-7, .count_b_m = 5e-7};
  const Eigen::VectorXd none = Eigen::VectorXd::Zero(search_variables(soft()));
  const SearchScore by_score = score(cases, soft(), limits);
  const auto value = [&](double penalty) {
    return objective({.cases = cases, .start = soft(), .limits = limits, .penalty = penalty}, none).value;
  };
  CHECK(value(1) == base::test::near(by_score.cost).epsilon(1e-12));
  limits.noise_n = by_score.noise_n / 1.1;  // of one counted case the worse side alone is above
  const double above = std::pow(2 * std::log(1.1), 2);
  CHECK(value(7) - by_score.cost > 7 * above * 0.999);
  CHECK(value(7) - by_score.cost < 7 * above * 2.001);
  limits.sensitivity = by_score.sensitivity / 1.5;
  CHECK(value(7) > by_score.cost + 7 * above);
  limits.sensitivity = by_score.sensitivity / 2.1;
  CHECK(std::isinf(value(7)));
}

}  // namespace evenbeam::tuning
