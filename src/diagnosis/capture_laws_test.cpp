// Play, a force cut off, clocks that drift: captures made by hand from the motion law with that one thing wrong.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "base/near_test.h"
#include "diagnosis/criteria.h"
#include "diagnosis/spring_fit_test.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kPeriod_s = 1e-3, kFriction_n = 50;

// One sample of a move: what the builder of a capture may know and set.
struct Point {
  double time_s = 0, place_m = 0, speed_m_per_s = 0, acceleration_m_per_s2 = 0;
  double skew_m = 0, force_a_n = 0, force_b_n = 0;
};

// Accelerations of half a second each, from rest; `set` writes skew and forces.
recording::Recording capture(const std::string& name, const std::vector<double>& accelerations,
                             const std::function<void(Point&)>& set) {
  recording::Recording r;
  r.name = name, r.kind = recording::RunKind::test_move, r.period_s = kPeriod_s;
  r.count_a_m = r.count_b_m = 1e-6;
  Point p;
  for (const double a : accelerations)
    for (int i = 0; i < 500; ++i) {
      p.acceleration_m_per_s2 = a;
      set(p);
      r.time_s.push_back(p.time_s);
      r.position_a_m.push_back(p.place_m + p.skew_m / 2), r.position_b_m.push_back(p.place_m - p.skew_m / 2);
      r.force_a_n.push_back(p.force_a_n), r.force_b_n.push_back(p.force_b_n);
      p.place_m += kPeriod_s * (p.speed_m_per_s + kPeriod_s * a / 2);
      p.speed_m_per_s += kPeriod_s * a, p.time_s += kPeriod_s;
    }
  return r;
}

double way_of(const Point& p) { return std::clamp(p.speed_m_per_s / 1e-3, -1.0, 1.0); }

// There and back twice.
const std::vector<double> kTwice{1, 0, 0, -1, -1, 0, 0, 1, 1, 0, 0, -1, -1, 0, 0, 1};

// The skew swings by 200 um; a spring of 2 N/um that answers from `half` on either side of 20 um.
recording::Recording swinging(double half_m) {
  return capture("swing.csv", kTwice, [half_m](Point& p) {
    p.skew_m = 20e-6 + 200e-6 * std::sin(2 * std::numbers::pi * 0.7 * p.time_s);
    const double off = p.skew_m - 20e-6, d = 2e6 * (off - std::clamp(off, -half_m, half_m));
    p.force_a_n = d + kFriction_n * way_of(p), p.force_b_n = -d + kFriction_n * way_of(p);
  });
}

}  // namespace

TEST_CASE(
    "play of 120 um around 20 um is found by its width, its middle and the spring beyond; a plain spring has none") {
  CHECK(play(swinging(0), kFriction_n).empty());
  const auto causes = play(swinging(60e-6), kFriction_n);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "play_swing.csv");
  CHECK(*causes[0].finding.value == base::test::near(120e-6).epsilon(0.1));  // steps of a seventeenth of 400 um
  CHECK(causes[0].finding.text.find("around 20 um") != std::string::npos);
  // 120 um times 2e6 N/m is 240 N, half of it either way; the friction that it must stand out of is 50 N
  CHECK(causes[0].fight_n == base::test::near(120).epsilon(0.1));
  CHECK(play(swinging(60e-6), 2000).empty());
}

// M = 100 kg, 50 N of friction a side: at 2 m/s2 a side gives 150 N, at 1 m/s2 100 N. A's drive ends at 150 N; its
// integral asks up to 60 N more along each hard acceleration, and nothing moves by it; A lags.
TEST_CASE("what is asked beyond 150 N and moves nothing is a clip of that side; without the excess nothing is said") {
  const std::vector<double> moves{1, -1, -1, 1, 2, -2, -2, 2, 1, -1, -1, 1, 2, -2, -2, 2};
  const auto made = [&](double more_n, bool on_b = false) {
    return capture("move.csv", moves, [more_n, on_b](Point& p) {
      const double a = p.acceleration_m_per_s2, each = 50 * a + kFriction_n * way_of(p);
      const double along = std::fmod(p.time_s, 0.5) / 0.5;
      p.force_a_n = p.force_b_n = each;
      const double lost = std::abs(each) > 149 ? std::copysign(more_n * along, each) : 0;
      (on_b ? p.force_b_n : p.force_a_n) += lost;
      p.skew_m = (on_b ? lost : -lost) / (2 * 2e6);  // it lags until a spring of 2 N/um makes up for it
    });
  };
  CHECK(clipped_force(made(0), kFriction_n).empty());
  const auto causes = clipped_force(made(60), kFriction_n);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "force_clipped_a_move.csv");
  CHECK(*causes[0].finding.value == base::test::near(150).epsilon(0.1));  // levels of a sixteenth of 210 N
  // 0 to 60 N are lost along each hard acceleration, 30 N on average, and half of that is fight. From where it is
  // asked for up to where it ends: the first of them begins at 2 s, the last ends at 7.5 s.
  CHECK(causes[0].fight_n == base::test::near(15).epsilon(0.3));
  CHECK(*causes[0].finding.from_s == base::test::near(2.2).epsilon(0.1));
  CHECK(*causes[0].finding.to_s == base::test::near(7.5).epsilon(0.01));
  // 100 Hz on one output is nothing under a triangle of 20 ms; where it makes more than half as much again of both
  // outputs' mean square, they are no longer what the law is read by.
  for (const bool on_a : {true, false})
    for (const double part : {0.4, 0.6}) {
      recording::Recording swings = made(60);
      double square = 0;
      for (std::size_t i = 0; i < swings.time_s.size(); ++i)
        square += (std::pow(swings.force_a_n[i], 2) + std::pow(swings.force_b_n[i], 2)) /
                  static_cast<double>(swings.time_s.size());
      for (std::size_t i = 0; i < swings.time_s.size(); ++i)
        (on_a ? swings.force_a_n : swings.force_b_n)[i] +=
            std::sqrt(2 * part * square) * std::sin(2 * std::numbers::pi * 100 * swings.time_s[i]);
      CHECK(clipped_force(swings, kFriction_n).size() == (part < 0.5 ? 1 : 0));
    }
  const auto mirrored = clipped_force(made(60, true), kFriction_n);
  REQUIRE(mirrored.size() == 1);
  CHECK(mirrored[0].finding.id == "force_clipped_b_move.csv");
}

// Between the moves friction holds 2 x 45 N one way and the other, which no law of motion knows.
TEST_CASE("a clip is found beside standstills in which friction holds what it likes") {
  const std::vector<double> moves{0, 0, 1, -1, 0, 0, -1, 1, 0, 0, 2, -2, 0, 0, -2, 2, 0, 0};
  const auto made = [&](double more_n) {
    return capture("move.csv", moves, [more_n](Point& p) {
      const bool stands = p.acceleration_m_per_s2 == 0;
      const double a = p.acceleration_m_per_s2, each = 50 * a + kFriction_n * way_of(p);
      const double held = std::sin(3 * p.time_s) > 0 ? 45 : -45, along = std::fmod(p.time_s, 0.5) / 0.5;
      const double lost = std::abs(each) > 149 ? std::copysign(more_n * along, each) : 0;
      p.force_a_n = stands ? held : each + lost, p.force_b_n = stands ? held : each;
      p.skew_m = -lost / (2 * 2e6);
    });
  };
  CHECK(clipped_force(made(0), kFriction_n).empty());
  const auto causes = clipped_force(made(60), kFriction_n);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "force_clipped_a_move.csv");
}

// B sampled later by 1e-4 t: loops hold the read skew at zero, so the true one is v 1e-4 t and the spring of 2 N/um
// gives d = 2e6 v 1e-4 t: 8 s at the top speed of 0.5 m/s make 800 N.
TEST_CASE("clocks that drift by 100 us a second are found where two captures show it, not where one does") {
  const auto made = [&](const char* name, double growth) {
    return capture(name, kTwice, [growth](Point& p) {
      const double d = 2e6 * p.speed_m_per_s * growth * p.time_s;
      p.force_a_n = d + kFriction_n * way_of(p), p.force_b_n = -d + kFriction_n * way_of(p);
    });
  };
  CHECK(clocks_drift({made("one.csv", 0), made("two.csv", 0)}, 2e6, kFriction_n).empty());
  CHECK(clocks_drift({made("one.csv", 1e-4), made("two.csv", 0)}, 2e6, kFriction_n).empty());
  CHECK(clocks_drift({made("one.csv", 1e-4), made("two.csv", -1e-4)}, 2e6, kFriction_n).empty());
  const auto causes = clocks_drift({made("one.csv", 1e-4), made("two.csv", 1e-4)}, 2e6, kFriction_n);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(800).epsilon(0.01));
  CHECK(causes[0].finding.text.find("100.0 us later") != std::string::npos);
  CHECK(clocks_drift({made("one.csv", 1e-4), made("two.csv", 1e-4)}, 0, kFriction_n).size() == 1);
}

}  // namespace evenbeam::diagnosis
