#include "tuning/explain.h"

#include <doctest/doctest.h>

#include "base/near_test.h"

namespace evenbeam::tuning {

TEST_CASE("the first stroke of a move: its start, its way and 0.45 s of the rest after it") {
  ForecastMove move{.name = "two strokes"};
  for (int i = 0; i < 4000; ++i) {
    const double t = 1e-3 * i;
    const bool first = t >= 0.2 && t < 0.7, second = t >= 2 && t < 2.5;
    const double v = first ? 0.4 : second ? -0.4 : i % 2 == 0 ? 1e-5 : 0;  // digits at rest are no motion
    move.reference.mean_m.push_back(0.4 * t);
    move.reference.mean_m_per_s.push_back(v), move.reference.mean_m_per_s2.push_back(0);
  }
  move.file_time_s = {1, 2, 3};
  const ForecastMove stroke = first_stroke(move, 1e-3);
  CHECK(stroke.reference.mean_m.size() == 1150);
  CHECK(stroke.reference.mean_m_per_s.size() == 1150);
  CHECK(stroke.reference.mean_m_per_s2.size() == 1150);
  CHECK(stroke.reference.mean_m.back() == move.reference.mean_m[1149]);
  CHECK(stroke.file_time_s.empty());
  CHECK(stroke.name == "two strokes");
  ForecastMove short_file = move;  // it ends within the rest
  for (auto* track :
       {&short_file.reference.mean_m, &short_file.reference.mean_m_per_s, &short_file.reference.mean_m_per_s2})
    track->resize(900);
  CHECK(first_stroke(short_file, 1e-3).reference.mean_m.size() == 900);
}

// Twice as quick: every rate twice, every time half, so that the loop in its own time is the same.
TEST_CASE("loops scaled by two: rates doubled, times halved, nothing beyond 0.4 of the rate") {
  machine::Settings s{.period_s = 1e-3, .share = 0.47, .mass_ff_kg = 220};
  s.mean = {10, 2000, 0.1, 60, {{40, 0.3, 0.8}, {150, 0.4, 0.7}}};
  s.skew = {7, 500, 0.2, 250, {}};
  for (const bool filters : {false, true}) {
    const machine::Settings twice = scaled(s, 2, filters);
    CHECK(twice.mean.position_gain_per_s == 20);
    CHECK(twice.mean.velocity_gain_n_s_per_m == 4000);
    CHECK(twice.mean.velocity_integral_s == base::test::near(0.05));
    CHECK(twice.skew.position_gain_per_s == 14);
    CHECK(twice.skew.velocity_gain_n_s_per_m == 1000);
    CHECK(twice.skew.velocity_integral_s == base::test::near(0.1));
    CHECK(twice.mean.velocity_filter_hz == (filters ? 120 : 60));
    CHECK(twice.skew.velocity_filter_hz == (filters ? 400 : 250));
    CHECK(twice.mean.filters[0].hz == (filters ? 80 : 40));
    CHECK(twice.mean.filters[1].hz == (filters ? 200 : 150));
    CHECK(twice.mean.filters[1].zn == 0.4);
    CHECK(twice.mass_ff_kg == 220);
    CHECK(twice.share == 0.47);
  }
}

}  // namespace evenbeam::tuning
