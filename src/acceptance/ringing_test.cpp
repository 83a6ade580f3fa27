#include "acceptance/ringing.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "base/near_test.h"

namespace evenbeam::acceptance {

TEST_CASE("ringing: frequency and damping of known oscillations in noise, two cycles being enough") {
  constexpr unsigned seed = 3;
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> u(0, 1);
  std::normal_distribution<double> g;
  for (int k = 0; k < 60; ++k) {
    const double period = 2e-4, length = 0.5, cycles = 1.8 * std::pow(50, u(random));
    const double hz = cycles / length, damping = -0.02 + 0.12 * u(random);
    const double omega = 2 * std::numbers::pi * hz, decay = damping * omega / std::sqrt(1 - damping * damping);
    if (std::abs(decay * length) > 6) continue;
    const double phase = 6.28 * u(random);
    std::vector<double> x;
    for (int i = 0; i * period < length; ++i) {
      const double t = i * period;
      x.push_back(3e-5 - 2e-5 * t + 1e-5 * std::exp(-decay * (t - length / 2)) * std::sin(omega * t + phase) +
                  3e-7 * g(random));
    }
    const Oscillation o = strongest_oscillation(x, 0, x.size(), period);
    CAPTURE(seed);
    CAPTURE(k);
    CAPTURE(cycles);
    CAPTURE(damping);
    CHECK(o.hz == base::test::near(hz).epsilon(0.02));
    CHECK(std::abs(o.damping - damping) < 0.02);
    CHECK(rings(o, {.noise_m = 1e-6}));
  }
}

// A law: the same samples on another clock are the same oscillation, its frequency and decay in that clock's unit,
// and on another scale the same with another size. Powers of two round nothing.
TEST_CASE("ringing: a clock or a scale in other units changes the units alone") {
  std::vector<double> x;
  for (int i = 0; i < 400; ++i)
    x.push_back(2e-6 + 3e-9 * i + 5e-6 * std::exp(-0.004 * i) * std::sin(0.11 * i + 0.5) + 1e-8 * std::sin(77.0 * i));
  const Oscillation plain = strongest_oscillation(x, 20, 380, 1);
  REQUIRE(plain.fitted);
  CHECK(plain.hz == base::test::near(0.11 / (2 * std::numbers::pi)).epsilon(1e-3));
  CHECK(plain.decay_per_s == base::test::near(0.004).epsilon(0.02));
  CHECK(plain.amplitude_m == base::test::near(5e-6 * std::exp(-0.004 * 199.5)).epsilon(0.01));
  CHECK(plain.explained > 0.99);
  CHECK(plain.cycles == base::test::near(plain.hz * 360).epsilon(0.05));
  for (const int k : {-30, -10, 10}) {
    const double clock = std::ldexp(1.0, k);
    const Oscillation other = strongest_oscillation(x, 20, 380, clock);
    REQUIRE(other.fitted);
    CHECK(other.hz * clock == plain.hz);
    CHECK(other.decay_per_s * clock == plain.decay_per_s);
    CHECK(other.damping == plain.damping);
    CHECK(other.amplitude_m == base::test::near(plain.amplitude_m));
    CHECK(other.explained == base::test::near(plain.explained));
    std::vector<double> scaled = x;
    for (double& v : scaled) v *= clock;
    const Oscillation larger = strongest_oscillation(scaled, 20, 380, 1);
    CHECK(larger.hz == plain.hz);
    CHECK(larger.amplitude_m == plain.amplitude_m * clock);
  }
}

TEST_CASE("noise, slow creep and counts do not ring") {
  constexpr unsigned seed = 5;
  std::mt19937 random(seed);
  std::normal_distribution<double> g;
  for (int k = 0; k < 20; ++k) {
    std::vector<double> noise, creep, counts;
    for (int i = 0; i < 1500; ++i) {
      noise.push_back(1e-6 * g(random));
      creep.push_back(5e-5 * std::exp(-i / (200.0 + 30 * k)) + 3e-7 * g(random));
      counts.push_back(5e-7 * std::round(creep.back() / 5e-7));
    }
    for (const auto* x : {&noise, &creep, &counts})
      CHECK_FALSE(rings(strongest_oscillation(*x, 0, x->size(), 4e-4), {}));
  }
  const std::vector<double> flat(1000, 1e-5);
  CHECK_FALSE(strongest_oscillation(flat, 0, flat.size(), 1e-3).fitted);
}

}  // namespace evenbeam::acceptance
