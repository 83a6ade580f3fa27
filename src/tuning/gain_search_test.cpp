#include "tuning/gain_search.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "base/near_test.h"
#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"
#include "servo/law_response.h"
#include "tuning/sensitivity.h"

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

// A second way: matrices of each line as the header states them, by the law's own response.
TEST_CASE("the score of settings: energies of both steps, noise of each side, the largest sensitivity") {
  auto cases = one_case();
  cases.push_back(one_case(0.8).front());
  cases[0].share = 0.46, cases[1].share = 0.55;
  cases.push_back(cases[1]);
  cases[2].counts_for_cost = false, cases[2].share = 0.3;
  const machine::Settings s = soft();
  for (const auto& [count_a, count_b] : {std::pair{8e-7, 1e-7}, std::pair{1e-7, 8e-7}}) {
    const SearchLimits limits{.count_a_m = count_a, .count_b_m = count_b};
    double cost = 0, noise = 0, sensitivity = 0;
    for (const SearchCase& c : cases) {
      machine::Settings here = s;
      here.share = c.share;
      const servo::LoopLaw law = servo::prepare(here);
      sensitivity = std::max(sensitivity, peak_sensitivity(c.hz, c.g, here).peak);
      double skew = 0, mean = 0, variance[2] = {0, 0};
      for (std::size_t i = 0; i < c.hz.size(); ++i) {
        const servo::SideResponse r = servo::response(law, 2 * std::numbers::pi * c.hz[i]);
        const math::Complex2x2 control{r.aa, r.ab, r.ba, r.bb}, one{1, 0, 0, 1};
        const math::Complex2x2 closed = math::inverse(one + c.g[i] * control), moves = closed * c.g[i];
        const math::Complex2x2 forces = control * closed;
        const double before = i > 0 ? c.hz[i - 1] : c.hz[i], after = i + 1 < c.hz.size() ? c.hz[i + 1] : c.hz[i];
        const double width = (after - before) / 2;
        skew += width / (c.hz[i] * c.hz[i]) * std::norm((moves.aa - moves.ab) - (moves.ba - moves.bb));
        mean += width / (c.hz[i] * c.hz[i]) * std::norm(((moves.aa + moves.ab) + (moves.ba + moves.bb)) / 4.0);
        // A count's square over 12, spread evenly up to half the rate 1e4 Hz.
        const double white_a = count_a * count_a / 12 / 5000, white_b = count_b * count_b / 12 / 5000;
        variance[0] += width * (std::norm(forces.aa) * white_a + std::norm(forces.ab) * white_b);
        variance[1] += width * (std::norm(forces.ba) * white_a + std::norm(forces.bb) * white_b);
      }
      if (!c.counts_for_cost) continue;
      cost += (std::log(skew) + 0.3 * std::log(mean)) / 2;
      noise = std::max({noise, std::sqrt(variance[0]), std::sqrt(variance[1])});
    }
    const SearchScore told = score(cases, s, limits);
    CHECK(told.cost == base::test::near(cost).epsilon(1e-9));
    CHECK(told.noise_n == base::test::near(noise).epsilon(1e-9));
    CHECK(told.sensitivity == base::test::near(sensitivity).epsilon(1e-9));
  }
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
