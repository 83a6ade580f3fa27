#include "homing/marks_oddities.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::homing {
namespace {

constexpr double speed = 0.02, pitch = 20e-3, flag = 6e-3, apart = 1.3e-3;

// Five searches, each switched on racked by another skew; A's mark at 100 mm, B's `apart` nearer.
std::vector<SearchRun> five(double direction = 1) {
  std::vector<SearchRun> runs;
  const double skew[] = {0.3e-3, -0.2e-3, 0.1e-3, 0.45e-3, -0.4e-3}, jitter[] = {1e-6, -1e-6, 0.5e-6, -0.5e-6, 0};
  for (int k = 0; k < 5; ++k) {
    SearchRun r{.name = "run " + std::to_string(k), .both_seen = true, .speed_m_per_s = direction * speed};
    r.latch_a_m = 0.1 + 1e-3 * k - skew[k] / 2;
    r.latch_b_m = 0.1 + 1e-3 * k - apart + skew[k] / 2 + jitter[k];
    r.stress_free_m = math::with_sd(-skew[k], 2e-6);
    runs.push_back(r);
  }
  return runs;
}

void look_again(std::vector<SearchRun>& runs) {
  for (SearchRun& r : runs) r.b_minus_a_m = math::with_sd(r.latch_a_m - r.latch_b_m - r.stress_free_m->value, 2e-6);
}

std::vector<Oddity> odd(std::vector<SearchRun>& runs) {
  look_again(runs);
  return find_oddities(runs, pitch, flag);
}

}  // namespace

TEST_CASE("searches that agree have nothing odd, however racked they began") {
  auto runs = five();
  CHECK(odd(runs).empty());
}

TEST_CASE("slipped pitch, wrong edge and late latch are told apart, with side and size") {
  for (const double direction : {1.0, -1.0}) {
    CAPTURE(direction);
    auto runs = five(direction);
    runs[2].latch_b_m += direction * pitch;
    auto found = odd(runs);
    REQUIRE(found.size() == 1);
    CHECK(found[0].kind == OddKind::slipped_pitch);
    CHECK(found[0].run == "run 2");
    CHECK(found[0].side == WhichSide::b);
    CHECK(found[0].pitches == 1);
    CHECK(found[0].size_m == base::test::near(pitch));
    CHECK(runs[2].left_out);

    runs = five(direction);
    runs[1].latch_a_m += direction * flag;
    found = odd(runs);
    REQUIRE(found.size() == 1);
    CHECK(found[0].kind == OddKind::wrong_edge);
    CHECK(found[0].side == WhichSide::a);
    CHECK(found[0].size_m == base::test::near(flag).epsilon(0.01));

    runs = five(direction);
    runs[3].latch_b_m += direction * speed * 4e-3;
    found = odd(runs);
    REQUIRE(found.size() == 1);
    CHECK(found[0].kind == OddKind::late_latch);
    CHECK(found[0].side == WhichSide::b);
    CHECK(found[0].size_s == base::test::near(4e-3).epsilon(0.05));
  }
}

TEST_CASE("a mark that drifts is named with its step, and takes no run out") {
  auto runs = five();
  for (size_t k = 0; k < runs.size(); ++k) runs[k].latch_b_m -= 15e-6 * static_cast<double>(k);
  const auto found = odd(runs);
  REQUIRE(found.size() == 1);
  CHECK(found[0].kind == OddKind::drifting);
  CHECK(found[0].size_m == base::test::near(15e-6).epsilon(0.1));
  for (const SearchRun& run : runs) CHECK_FALSE(run.left_out);
}

TEST_CASE("a latch late every time shows between the directions") {
  auto runs = five(1), back = five(-1);
  for (SearchRun& r : runs) r.latch_a_m += speed * 3e-3;
  for (SearchRun& r : back) r.latch_a_m -= speed * 3e-3;
  // Either way alternately, so that no drift is seen in it.
  std::vector<SearchRun> both;
  for (size_t k = 0; k < runs.size(); ++k) both.push_back(runs[k]), both.push_back(back[k]);
  const auto found = odd(both);
  REQUIRE(found.size() == 1);
  CHECK(found[0].kind == OddKind::direction);
  CHECK(found[0].side == WhichSide::a);
  CHECK(found[0].size_s == base::test::near(3e-3).epsilon(0.02));
}

TEST_CASE("slips that come and go on one side put its mark near its switch's edge") {
  auto runs = five();
  runs[0].latch_a_m += pitch, runs[3].latch_a_m += pitch;
  const auto found = odd(runs);
  REQUIRE(found.size() == 3);
  CHECK(found[2].kind == OddKind::near_switch_edge);
  CHECK(found[2].side == WhichSide::a);
}

TEST_CASE("without outputs a slip is still told, by bare differences") {
  auto runs = five();
  for (SearchRun& r : runs) r.stress_free_m.reset();
  runs[4].latch_b_m += pitch;
  const auto found = find_oddities(runs, pitch, 0);
  REQUIRE(found.size() == 1);
  CHECK(found[0].kind == OddKind::slipped_pitch);
  CHECK(found[0].side == WhichSide::b);
}

TEST_CASE(
    "three searches without outputs, coarse counts: what is beyond the power-up skews is named, and nothing else") {
  constexpr double allowable = 1.5e-3, count = 12.5e-6, wide_flag = 8e-3;
  math::Random random(23);
  const auto counted = [&](double x) { return count * std::round(x / count); };
  int named = 0, side_named = 0, drawn = 0;
  for (int trial = 0; trial < 600; ++trial) {
    std::vector<SearchRun> runs;
    for (int k = 0; k < 3; ++k) {
      const double skew = random.uniform(-allowable, allowable), start = random.uniform(-1.5e-3, 1.5e-3);
      SearchRun r{.name = "run " + std::to_string(k), .both_seen = true, .speed_m_per_s = 0.03};
      r.latch_a_m = counted(0.05 + start - skew / 2), r.latch_b_m = counted(0.05 + start - apart + skew / 2);
      runs.push_back(r);
    }
    const size_t wrong = static_cast<size_t>(random.below(3));
    const bool of_a = random.below(2) == 0;
    const int fault = static_cast<int>(random.below(3));  // nothing, a pitch, the flag's other edge
    double& latch = of_a ? runs[wrong].latch_a_m : runs[wrong].latch_b_m;
    latch += fault == 1 ? pitch : fault == 2 ? wide_flag : 0;
    const auto found = find_oddities(runs, pitch, wide_flag, allowable);
    CAPTURE(trial);
    CAPTURE(fault);
    if (fault == 0) {
      CHECK(found.empty());
      continue;
    }
    ++drawn;
    REQUIRE(found.size() == 1);
    CHECK(found[0].run == runs[wrong].name);
    CHECK(found[0].kind == (fault == 1 ? OddKind::slipped_pitch : OddKind::wrong_edge));
    CHECK(std::abs(std::abs(found[0].size_m) - (fault == 1 ? pitch : wide_flag)) <= found[0].doubt_m + 1e-9);
    ++named;
    if (found[0].side == WhichSide::unknown) continue;
    ++side_named;
    CHECK(found[0].side == (of_a ? WhichSide::a : WhichSide::b));
    CHECK(found[0].size_m > 0);
  }
  CHECK(named == drawn);
  CHECK(side_named > 0.5 * drawn);
}

}  // namespace evenbeam::homing
