#include "diagnosis/smooth_samples.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kPeriod_s = 1e-3;

// Any forces at all, 100 kg on both sides together and 40 kg against each other: each sample of the forces is the
// second difference of what is moved.
recording::Recording driven_by_chance(std::size_t count) {
  math::Random random(11);
  recording::Recording r{.name = "chance.csv", .kind = recording::RunKind::test_move, .period_s = kPeriod_s};
  double mean = 0.3, skew = 1e-4, mean_step = 2e-4, skew_step = 1e-7;
  for (std::size_t k = 0; k < count; ++k) {
    const double sum = 200 * random.normal(), fight = 30 * random.normal();
    r.time_s.push_back(kPeriod_s * static_cast<double>(k));
    r.position_a_m.push_back(mean + skew / 2), r.position_b_m.push_back(mean - skew / 2);
    r.force_a_n.push_back(sum / 2 + fight), r.force_b_n.push_back(sum / 2 - fight);
    mean_step += kPeriod_s * kPeriod_s * sum / 100, skew_step += kPeriod_s * kPeriod_s * fight / 40;
    mean += mean_step, skew += skew_step;
  }
  return r;
}

}  // namespace

// The promise of the header, exact in sums as in integrals: the second difference over h is the sum of the small ones
// under a triangle, whatever they are.
TEST_CASE("the law between force and motion holds between smooth samples, whatever the forces were") {
  const recording::Recording r = driven_by_chance(900);
  const auto samples = smooth_samples(r, 100000);
  REQUIRE(samples.size() == 880);  // ten samples either way reach into each of them
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const SmoothSample& s = samples[i];
    CHECK(std::abs(100 * s.acceleration_m_per_s2 - s.force_a_n - s.force_b_n) < 1e-3);
    CHECK(std::abs(40 * s.skew_acceleration_m_per_s2 - s.fight_n()) < 1e-3);
    CHECK(s.time_s == r.time_s[i + 10]);
    CHECK(s.place_m == base::test::near((r.position_a_m[i + 10] + r.position_b_m[i + 10]) / 2));
  }
}

// A parabola's central differences are exact; under the triangle its curvature c adds c (h^2 - 1)/12 a sample^2.
TEST_CASE("speed, rate and mean of a parabola, by hand") {
  recording::Recording r = driven_by_chance(400);
  for (std::size_t k = 0; k < 400; ++k) {
    const double t = r.time_s[k], mean = 0.2 * t + 1.5 * t * t, skew = 3e-5 - 2e-4 * t + 4e-4 * t * t;
    r.position_a_m[k] = mean + skew / 2, r.position_b_m[k] = mean - skew / 2;
    r.force_a_n[k] = 10 + 50 * t, r.force_b_n[k] = -20 * t;
  }
  r.position_b_m[200] = NAN;
  const auto samples = smooth_samples(r, 400);
  CHECK(samples.size() == 380 - 21);  // no sample with a missing one within its window of +-10
  for (const SmoothSample& s : samples) {
    const double t = s.time_s;
    CHECK(s.speed_m_per_s == base::test::near(0.2 + 3 * t));
    CHECK(s.acceleration_m_per_s2 == base::test::near(3).epsilon(1e-6));
    CHECK(s.skew_m == base::test::near(3e-5 - 2e-4 * t + 4e-4 * (t * t + 99e-6 / 6)));
    CHECK(std::abs(s.skew_rate_m_per_s - (-2e-4 + 8e-4 * t)) < 1e-12);
    CHECK(s.skew_acceleration_m_per_s2 == base::test::near(8e-4).epsilon(1e-4));
    CHECK(s.force_a_n == base::test::near(10 + 50 * t));
    CHECK(s.force_b_n == base::test::near(-20 * t));
  }
}

TEST_CASE("as many as are wanted, evenly; in motion are those above a twentieth of the top speed") {
  recording::Recording r = driven_by_chance(4000);
  for (std::size_t k = 0; k < 4000; ++k) {  // 2 s at -1 m/s, 1 s at 60 mm/s, 1 s at 40 mm/s
    const double t = r.time_s[k];
    r.position_a_m[k] = r.position_b_m[k] =
        -std::min(t, 2.0) + 0.06 * std::clamp(t - 2, 0.0, 1.0) + 0.04 * std::max(0.0, t - 3);
  }
  const auto samples = smooth_samples(r, 400);
  REQUIRE(samples.size() == 398);
  CHECK(samples[1].time_s - samples[0].time_s == base::test::near(0.01));
  CHECK(top_speed(samples) == base::test::near(1));
  const auto in_motion = moving(samples);
  // Of each 100 a second; where one speed goes over into another, a sample may read something between.
  CHECK(in_motion.size() >= 297);
  CHECK(in_motion.size() <= 300);
  CHECK(top_speed({}) == 0);
  CHECK(moving({}).empty());
}

}  // namespace evenbeam::diagnosis
