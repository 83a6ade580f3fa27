#include "tuning/gain_search.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"

namespace evenbeam::tuning {
namespace {

constexpr double kKept = 1.004;  // limits are kept to that, gain_search.h

machine::Settings soft() {
  machine::Settings s{.period_s = 1e-4, .peak_force_a_n = 2000, .peak_force_b_n = 2000};
  s.mean = {5, 3000, 0.3, 800, {{100, 0.7, 0.7}}};
  s.skew = {5, 700, 0.3, 800, {{100, 0.7, 0.7}}};
  return s;
}

std::vector<SearchCase> one_case(double stiffness = 1) {
  SearchCase c;
  dynamics::Plant plant = dynamics::test::full_plant();
  plant.a.drive_stiffness_n_per_m *= stiffness;
  const auto model = dynamics::response_model(plant, 1e-4);
  for (double hz = 1; hz < 4900; hz *= 1.1) {
    const auto g = dynamics::response(model, 2 * std::numbers::pi * hz);
    c.hz.push_back(hz);
    c.g.push_back({g.aa, g.ab, g.ba, g.bb});
  }
  return {c};
}

}  // namespace

TEST_CASE("the search keeps its limits, lowers its cost, and comes out the same again") {
  const SearchLimits limits{.sensitivity = 1.6, .noise_n = 30, .count_a_m = 5e-7, .count_b_m = 5e-7};
  const auto cases = one_case();
  const SearchResult first = search_gains(cases, soft(), soft(), limits),
                     again = search_gains(cases, soft(), soft(), limits);
  REQUIRE(first.before.sensitivity < 1.6);
  CHECK(first.after.cost < first.before.cost - 0.5);
  CHECK(first.after.sensitivity <= 1.6 * kKept);
  CHECK(first.after.noise_n <= 30 * kKept);
  CHECK(first.settings.skew.velocity_gain_n_s_per_m == again.settings.skew.velocity_gain_n_s_per_m);
  const SearchScore asked_again = score(cases, first.settings, limits);
  CHECK(asked_again.cost == first.after.cost);
  // a constraint that binds costs: half the noise allowed can't end lower
  SearchLimits quiet = limits;
  quiet.noise_n = 0.5 * first.after.noise_n;
  const SearchResult less = search_gains(cases, soft(), soft(), quiet);
  CHECK(less.after.noise_n <= quiet.noise_n * kKept);
  CHECK(less.after.cost > first.after.cost);
}

TEST_CASE("a start that breaks its limits is brought inside them") {
  const auto cases = one_case();
  machine::Settings rough = soft();
  rough.skew.velocity_gain_n_s_per_m *= 12, rough.mean.velocity_gain_n_s_per_m *= 3;
  const SearchLimits limits{.sensitivity = 1.6, .noise_n = 30, .count_a_m = 5e-7, .count_b_m = 5e-7};
  REQUIRE(score(cases, rough, limits).sensitivity > 1.6);
  CHECK(search_gains(cases, rough, rough, limits).after.sensitivity <= 1.6 * kKept);
}

TEST_CASE("settings move smoothly with the plant: half the change moves them half as far") {
  const SearchLimits limits{.sensitivity = 1.6, .noise_n = 30, .count_a_m = 5e-7, .count_b_m = 5e-7};
  const auto found = [&](double change) {
    const auto cases = one_case(1 + change);
    const machine::Settings s = search_gains(cases, soft(), soft(), limits).settings;
    return std::log(s.skew.velocity_gain_n_s_per_m) + std::log(s.skew.position_gain_per_s);
  };
  const double none = found(0), half = found(0.01) - none, whole = found(0.02) - none;
  CAPTURE(half);
  CAPTURE(whole);
  CHECK(std::abs(whole) < 0.2);
  CHECK(std::abs(whole - 2 * half) < 0.1);
}

}  // namespace evenbeam::tuning
