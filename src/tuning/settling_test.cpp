#include "tuning/settling.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"

namespace evenbeam::tuning {
namespace {

// One second a row of: up for 1 s, rest 1 s, up again to the end; the error dies with 50 ms after each stop.
simulation::RunSeries strokes(double error_m, double tail_m, bool ends_moving) {
  simulation::RunSeries s;
  s.period_s = 1e-3;
  const size_t n = ends_moving ? 2500 : 2000;
  for (size_t k = 0; k < n; ++k) {
    const double t = static_cast<double>(k) * 1e-3;
    const double r = t < 1 ? t : t < 2 ? 1 : 1 + (t - 2);
    const double off = t < 1 ? error_m : error_m * std::exp(-(t - 1) / 0.05) + tail_m;
    s.time_s.push_back(t);
    s.reference_a_m.push_back(r), s.reference_b_m.push_back(r);
    s.position_a_m.push_back(r + off), s.position_b_m.push_back(r);
  }
  return s;
}

}  // namespace

TEST_CASE("a file that ends inside a stroke still tells how long its stops took to settle") {
  for (bool ends_moving : {false, true}) {
    const Settling s = settling(strokes(1e-3, 0, ends_moving), 1e-5);
    CAPTURE(ends_moving);
    CHECK(s.stops == 1);
    CHECK(s.not_settled == 0);
    CHECK(why_unknown(s, 1e-5).empty());
    // 0.05 ln 100 = 230.26 ms after the stop: the sample at 230 ms is the last one outside.
    CHECK(s.longest_s == base::test::near(0.230));
    CHECK(s.watched_s == base::test::near(1).epsilon(0.01));
  }
}

TEST_CASE("of two stops the slower one is told, and the shorter watch") {
  simulation::RunSeries s;
  s.period_s = 1e-3;
  // Stops at 0.1 s for 0.3 s, and at 0.5 s for 0.4 s; the mean is off for 20 ms after the first, the skew for 90 ms
  // after the second.
  for (size_t k = 0; k <= 1000; ++k) {
    const double t = static_cast<double>(k) * 1e-3;
    const double r = std::min(t, 0.1) + std::clamp(t - 0.4, 0.0, 0.1) + std::max(0.0, t - 0.9);
    const double mean = t > 0.1 && t < 0.1205 ? 30e-6 : 0, skew = t > 0.5 && t < 0.5905 ? 30e-6 : 0;
    s.time_s.push_back(t);
    s.reference_a_m.push_back(r), s.reference_b_m.push_back(r);
    s.position_a_m.push_back(r + mean + skew / 2), s.position_b_m.push_back(r + mean - skew / 2);
  }
  const Settling found = settling(s, 20e-6);
  CHECK(found.stops == 2);
  CHECK(found.longest_s == base::test::near(0.090).epsilon(0.012));  // to one sample
  CHECK(found.watched_s == base::test::near(0.3).epsilon(0.004));
  CHECK(settling(s, 40e-6).longest_s == 0);
}

TEST_CASE("an error that stays outside is not settled, and no stop is no answer") {
  const Settling stays = settling(strokes(1e-3, 2e-5, true), 1e-5);
  CHECK(stays.not_settled == 1);
  CHECK(std::isnan(stays.longest_s));
  CHECK(why_unknown(stays, 1e-5) ==
        "1 of 1 stops still outside 10 um when watching ended, at the earliest 1 s after the stop");
  simulation::RunSeries moving = strokes(1e-3, 0, false);
  moving.time_s.resize(900);
  const Settling none = settling(moving, 1e-5);
  CHECK(none.stops == 0);
  CHECK(std::isnan(none.longest_s));
  CHECK(why_unknown(none, 1e-5) == "the move holds no stop of at least 50 ms");
}

}  // namespace evenbeam::tuning
