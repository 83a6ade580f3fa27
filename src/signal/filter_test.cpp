#include "signal/filter.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam;
using std::numbers::pi;

TEST_CASE("a biquad run on a sine settles to its frequency response") {
  math::Random random(41);
  for (int round = 0; round < 20; ++round) {
    const double period_s = 1e-4, hz = random.uniform(20, 3000), tone = random.uniform(20, 3000);
    const auto filter = signal::notch(hz, random.uniform(0, 0.5), random.uniform(0.2, 1), period_s);
    const auto g = signal::response(filter, tone, period_s);
    signal::BiquadState state;
    double worst = 0;
    for (int n = 0; n < 12000; ++n) {
      const double phase = 2 * pi * tone * period_s * n;
      const double y = signal::step(filter, state, std::cos(phase));
      if (n > 10000) worst = std::max(worst, std::abs(y - (g * std::polar(1.0, phase)).real()));
    }
    INFO("seed 41, round ", round, " notch ", hz, " tone ", tone);
    CHECK(worst < 1e-6);
  }
}

TEST_CASE("a notch: nothing passes at its middle, all at the ends, and its depth is the ratio of dampings") {
  const auto filter = signal::notch(210, 0.05, 0.4, 1e-4);
  CHECK(std::abs(signal::response(filter, 210, 1e-4)) == base::test::near(0.125).epsilon(1e-12));
  CHECK(std::abs(signal::response(filter, 0, 1e-4)) == base::test::near(1).epsilon(1e-12));
  CHECK(std::abs(signal::response(filter, 5000, 1e-4)) == base::test::near(1).epsilon(1e-12));
  CHECK(std::abs(signal::response(signal::notch(210, 0, 0.4, 1e-4), 210, 1e-4)) < 1e-12);
}

TEST_CASE("a notch of stated quality is 3 dB down exactly at its width") {
  for (const double hz : {30.0, 210.0, 1500.0}) {
    const double period_s = 1e-4, quality = 3;
    const auto filter = signal::quality_notch(hz, quality, period_s);
    // The two points g with |H| = 1/sqrt(2): bisect on each side of the middle.
    double edges[2] = {0, 0};
    for (int side = 0; side < 2; ++side) {
      double inside = hz, outside = side == 0 ? 1 : 4999;
      for (int i = 0; i < 100; ++i) {
        const double middle = 0.5 * (inside + outside);
        (std::norm(signal::response(filter, middle, period_s)) < 0.5 ? inside : outside) = middle;
      }
      edges[side] = inside;
    }
    INFO("notch ", hz);
    CHECK(edges[1] - edges[0] == base::test::near(hz / quality).epsilon(1e-9));
  }
}

TEST_CASE("smoothed derivatives of a parabola are exact, gaps and edges are marked") {
  const double period_s = 1e-3;
  std::vector<double> x(800);
  for (std::size_t n = 0; n < x.size(); ++n) {
    const double t = period_s * static_cast<double>(n);
    x[n] = 0.7 + 0.3 * t + 2.5 * t * t;
  }
  x[500] = std::nan("");
  const auto s = signal::smooth_derivatives(x, period_s, 30);
  REQUIRE(s.half_width > 10);
  std::size_t known = 0;
  for (std::size_t n = 0; n < x.size(); ++n) {
    const bool near_end = n < s.half_width || n + s.half_width >= x.size();
    const bool near_gap = n + s.half_width >= 500 && n <= 500 + s.half_width;
    CHECK(std::isfinite(s.second[n]) == !(near_end || near_gap));
    if (!std::isfinite(s.second[n])) continue;
    ++known;
    const double t = period_s * static_cast<double>(n);
    CHECK(s.first[n] == base::test::near(0.3 + 5 * t).epsilon(1e-9));
    CHECK(s.second[n] == base::test::near(5).epsilon(1e-8));
  }
  CHECK(known > 500);
}

TEST_CASE("on a tone the kernel is the stated one, and all three outputs share it") {
  const double period_s = 2e-4;
  for (const double bandwidth_hz : {20.0, 100.0, 400.0})
    for (const double tone_hz : {0.3 * bandwidth_hz, bandwidth_hz, 1.7 * bandwidth_hz}) {
      const double w = 2 * pi * tone_hz;
      std::vector<double> x(4000);
      for (std::size_t n = 0; n < x.size(); ++n) x[n] = std::sin(w * period_s * static_cast<double>(n));
      const auto s = signal::smooth_derivatives(x, period_s, bandwidth_hz);
      const auto plain = signal::smooth(x, period_s, bandwidth_hz);
      const double gain = std::exp2(-0.5 * std::pow(tone_hz / bandwidth_hz, 2));
      INFO("bandwidth ", bandwidth_hz, " tone ", tone_hz);
      double worst = 0;
      for (std::size_t n = s.half_width; n + s.half_width < x.size(); ++n) {
        const double phase = w * period_s * static_cast<double>(n);
        worst = std::max({worst, std::abs(s.value[n] - gain * std::sin(phase)), std::abs(s.value[n] - plain[n]),
                          std::abs(s.first[n] / w - gain * std::cos(phase)),
                          std::abs(s.second[n] / (w * w) + gain * std::sin(phase))});
      }
      CHECK(worst < 2e-4);
    }
}
