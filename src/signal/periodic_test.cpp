#include "signal/periodic.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam;

namespace {
// Random-phase tones on lines 1 .. 40 of `period` samples, noise and a ramp on top.
std::vector<double> multisine(std::size_t period, std::size_t count, double noise, double ramp,
                              math::Random& random) {
  std::vector<double> tone(period, 0.0), x(count);
  for (std::size_t k = 1; k <= 40; ++k) {
    const double phase = random.uniform(0, 2 * std::numbers::pi);
    for (std::size_t n = 0; n < period; ++n)
      tone[n] +=
          std::cos(2 * std::numbers::pi * static_cast<double>(k * n % period) / static_cast<double>(period) + phase);
  }
  for (std::size_t n = 0; n < count; ++n)
    x[n] = tone[n % period] + noise * random.normal() + ramp * static_cast<double>(n);
  return x;
}
}  // namespace

TEST_CASE("the period is found to the sample, under noise and on a ramp") {
  math::Random random(31);
  for (int round = 0; round < 20; ++round) {
    const std::size_t period = 300 + random.below(1500);
    const auto x = multisine(period, 5 * period + random.below(period), 1.0, random.uniform(-0.05, 0.05), random);
    const auto found = signal::find_period(x, 1e-3);
    INFO("seed 31, round ", round, " period ", period, " ", found.reason);
    REQUIRE(found.found);
    CHECK(found.period_s == base::test::near(1e-3 * static_cast<double>(period)));
  }
}

TEST_CASE("noise, a step and a slow swing have no period") {
  math::Random random(32);
  std::vector<double> noise(4000), step(4000, 0.0), slow(4000);
  for (std::size_t n = 0; n < 4000; ++n) {
    noise[n] = random.normal();
    step[n] = n > 2000 ? 1 : 0;
    slow[n] = std::sin(static_cast<double>(n) / 1500);
  }
  for (const auto& x : {noise, step, slow}) {
    const auto found = signal::find_period(x, 1e-3);
    CHECK_FALSE(found.found);
    CHECK_FALSE(found.reason.empty());
  }
  noise[7] = std::nan("");
  CHECK_FALSE(signal::find_period(noise, 1e-3).found);
}

TEST_CASE("means, slopes and averages of periods by hand") {
  math::Random random(33);
  const auto x = multisine(100, 720, 0, 0.25, random);
  const auto slopes = signal::period_drifts(x, 100);
  REQUIRE(slopes.size() == 7);
  for (const double slope : slopes) CHECK(slope == base::test::near(0.25).epsilon(1e-10));
  const std::vector<double> y = {1, 2, 3, 4, 5, 8, std::nan(""), 0};
  const auto average = signal::average_periods(y, 2, 1);
  CHECK(average.periods == 2);
  CHECK(average.mean == std::vector<double>{4, 6});
  CHECK(average.sd[1] == base::test::near(std::sqrt(8.0)));
}

TEST_CASE("a start that dies away is left out, a steady signal is not shortened") {
  math::Random random(34);
  auto x = multisine(200, 2000, 0.1, 0, random);
  CHECK(signal::transient_periods(x, 200) == 0);
  for (std::size_t n = 0; n < 600; ++n) x[n] += 30 * std::exp(-static_cast<double>(n) / 100);
  const std::size_t skipped = signal::transient_periods(x, 200);
  CHECK(skipped >= 1);
  CHECK(skipped <= 3);
}
