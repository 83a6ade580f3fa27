#include "tuning/gain_search.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"

namespace evenbeam::tuning {
namespace {

machine::Settings soft() {
  machine::Settings s{.period_s = 1e-4, .peak_force_a_n = 2000, .peak_force_b_n = 2000};
  s.mean = {5, 3000, 0.3, 800, {{100, 0.7, 0.7}}};
  s.skew = {5, 700, 0.3, 800, {{100, 0.7, 0.7}}};
  return s;
}

std::vector<SearchCase> one_case() {
  SearchCase c;
  const auto model = dynamics::response_model(dynamics::test::full_plant(), 1e-4);
  for (double hz = 1; hz < 4900; hz *= 1.1) {
    const auto g = dynamics::response(model, 2 * std::numbers::pi * hz);
    c.hz.push_back(hz);
    c.g.push_back({g.aa, g.ab, g.ba, g.bb});
  }
  return {c};
}

}  // namespace

TEST_CASE("the search keeps its limits, lowers its cost, and comes out the same for a seed") {
  const SearchLimits limits{.sensitivity = 1.6, .noise_n = 30, .count_a_m = 5e-7, .count_b_m = 5e-7};
  const auto cases = one_case();
  const SearchResult first = search_gains(cases, soft(), limits, 300, 7),
                     again = search_gains(cases, soft(), limits, 300, 7);
  REQUIRE(first.before.sensitivity < 1.6);
  CHECK(first.after.cost < first.before.cost - 0.5);
  CHECK(first.after.sensitivity <= 1.6);
  CHECK(first.after.noise_n <= 30);
  CHECK(first.settings.skew.velocity_gain_n_s_per_m == again.settings.skew.velocity_gain_n_s_per_m);
  const SearchScore asked_again = score(cases, first.settings, limits);
  CHECK(asked_again.cost == first.after.cost);
  // a constraint that binds costs: half the noise allowed can't end lower
  SearchLimits quiet = limits;
  quiet.noise_n = 3;
  CHECK(search_gains(cases, first.settings, quiet, 300, 7).after.noise_n < first.after.noise_n);
}

}  // namespace evenbeam::tuning
