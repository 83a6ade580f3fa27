#include "tuning/settling.h"

#include <doctest/doctest.h>

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
    CHECK(s.longest_s == base::test::near(0.05 * std::log(100)).epsilon(0.02));
    CHECK(s.watched_s == base::test::near(1).epsilon(0.01));
  }
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
