#include <doctest/doctest.h>

#include <algorithm>

#include "base/near_test.h"
#include "diagnosis/criteria.h"
#include "diagnosis/spring_fit_test.h"

namespace evenbeam::diagnosis {
namespace {

// A second at 0.1 m/s, then a second of rest; 60 N on A, 40 N on B while it moves, 20 and -20 at rest.
recording::Recording move() {
  recording::Recording r;
  r.name = "move.csv";
  r.kind = recording::RunKind::test_move;
  r.period_s = 1e-3;
  r.count_a_m = r.count_b_m = 1e-6;
  for (int i = 0; i < 2000; ++i) {
    const double t = 1e-3 * i, x = 0.1 * std::min(t, 1.0);
    r.time_s.push_back(t);
    r.reference_a_m.push_back(x), r.reference_b_m.push_back(x);
    r.position_a_m.push_back(x), r.position_b_m.push_back(x - 1e-4);
    r.force_a_n.push_back(t < 1 ? 60 : 20), r.force_b_n.push_back(t < 1 ? 40 : -20);
  }
  r.force_a_n[0] = r.force_b_n[0] = 0.01;  // the least step of the outputs
  return r;
}

void off(std::vector<double>& force_n, std::size_t from, std::size_t to) {
  for (std::size_t i = from; i < to; ++i) force_n[i] = 0;
}

TEST_CASE("healthy outputs, and a zero of 10 ms, say nothing") {
  recording::Recording r = move();
  CHECK(sides_off(r).empty());
  off(r.force_b_n, 500, 510);
  CHECK(sides_off(r).empty());
}

TEST_CASE("both off in motion is a trip, told with both following errors: 0 and 100 um") {
  recording::Recording r = move();
  off(r.force_a_n, 500, 2000), off(r.force_b_n, 500, 2000);
  const auto causes = sides_off(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "tripped_in_motion_move.csv");
  CHECK(*causes[0].finding.value == base::test::near(-1e-4));
  CHECK(*causes[0].finding.from_s == base::test::near(0.5));
}

TEST_CASE("B off at 0.5 s, A a tenth of a second later: one side alone, 60 N against nothing") {
  recording::Recording r = move();
  off(r.force_b_n, 500, 2000), off(r.force_a_n, 600, 2000);
  const auto causes = sides_off(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "one_side_off_b_move.csv");
  CHECK(*causes[0].finding.value == base::test::near(60));
  CHECK(causes[0].finding.text.find("for 1500 ms") != std::string::npos);
}

TEST_CASE("B off at 0.5 s, A 10 ms later: 60 N for half of the first 20 ms, still one side alone and no trip") {
  recording::Recording r = move();
  off(r.force_b_n, 500, 2000), off(r.force_a_n, 510, 2000);
  const auto causes = sides_off(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "one_side_off_b_move.csv");
  CHECK(*causes[0].finding.value == base::test::near(30));
}

// The command starts at 0.5 s, the bridge sticks for 10 ms; B trips after 5 ms, A follows 15 ms later.
TEST_CASE("B off before anything has moved, A 15 ms later in motion: one side alone and no trip") {
  recording::Recording r = move();
  for (std::size_t i = 0; i < 2000; ++i) {
    const double t = r.time_s[i], x = 0.1 * std::clamp(t - 0.5, 0.0, 1.0), at = t < 0.51 ? 0 : x;
    r.reference_a_m[i] = r.reference_b_m[i] = x, r.position_a_m[i] = r.position_b_m[i] = at;
  }
  off(r.force_b_n, 505, 2000), off(r.force_a_n, 520, 2000);
  const auto causes = sides_off(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "one_side_off_b_move.csv");
}

// The bridge stands until 0.5 s, goes out by 50 mm and comes back; only what is commanded from then on tells that B's
// silence begins in motion, and at the file's end all is where it was.
TEST_CASE("B off at the very instant at which a move there and back begins: one side alone") {
  recording::Recording r = move();
  for (std::size_t i = 0; i < 2000; ++i) {
    const double t = r.time_s[i], x = 0.1 * (std::clamp(t - 0.5, 0.0, 0.5) - std::clamp(t - 1.2, 0.0, 0.5));
    r.reference_a_m[i] = r.reference_b_m[i] = r.position_a_m[i] = r.position_b_m[i] = x;
  }
  off(r.force_b_n, 500, 2000);
  const auto causes = sides_off(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "one_side_off_b_move.csv");
  CHECK(*causes[0].finding.value == base::test::near(60));
  CHECK(causes[0].fight_n == base::test::near(30));  // half of it
}

TEST_CASE("B silent while nothing is commanded and A holds 20 N: a dead band") {
  recording::Recording r = move();
  off(r.force_b_n, 1100, 2000);
  const auto causes = sides_off(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "dead_band_b_move.csv");
  CHECK(*causes[0].finding.value == base::test::near(20));
}

// The reference goes there and back at 0.2 and 0.1 m/s; d = 100 N a m/s of speed: 20 N at top speed.
TEST_CASE("what of the fight goes with the speed decides between a late recorder and late loops or a drag") {
  recording::Recording r = move();
  for (std::size_t i = 0; i < 2000; ++i) {
    const double t = r.time_s[i];
    const double v = t < 0.5 ? 0.2 : t < 1 ? 0.1 : t < 1.5 ? -0.2 : -0.1;
    const double x = i == 0 ? 0 : r.reference_a_m[i - 1] + v * 1e-3;
    r.reference_a_m[i] = r.reference_b_m[i] = r.position_a_m[i] = r.position_b_m[i] = x;
    r.force_a_n[i] = 100 * v, r.force_b_n[i] = -100 * v;
  }
  CHECK(fight_with_speed(r) == base::test::near(20).epsilon(0.05));
  r.b_late_s = 1e-3;
  CHECK(unequal_sampling(r, spring_fit(), 50).front().finding.id == "drag_or_late_sampling_move.csv");
  CHECK(unequal_sampling(r, spring_fit(), 100).front().finding.id == "unequal_sampling_move.csv");
}

}  // namespace
}  // namespace evenbeam::diagnosis
