#include "identification/motion_rows.h"

#include <doctest/doctest.h>

#include <cmath>
#include <utility>

#include "base/near_test.h"

namespace evenbeam::identification {
namespace {

recording::Recording swinging(const std::string& name, double hz, double carriage_y_m) {
  recording::Recording r{.name = name, .kind = recording::RunKind::test_move, .period_s = 1e-3};
  r.carriage_y_m = carriage_y_m, r.payload_kg = 0.0;
  for (int i = 0; i < 4000; ++i) {
    const double t = r.period_s * i, w = 2 * 3.14159265358979 * hz, x = 0.2 * std::sin(w * t);
    r.time_s.push_back(t);
    r.position_a_m.push_back(x), r.position_b_m.push_back(x - 1e-4 * std::cos(w * t));
    r.force_a_n.push_back(-90 * w * w * x + 30), r.force_b_n.push_back(-110 * w * w * x + 20);
  }
  return r;
}

}  // namespace

TEST_CASE("rows with motions known are those without, and the known captures' samples are not read") {
  machine::Machine machine;
  machine.span_m = 1.5;
  const std::vector<recording::Recording> all{swinging("first", 0.5, 0.1), swinging("second", 0.7, -0.4),
                                              swinging("third", 0.4, 0.1)};
  constexpr double kBandwidth_hz = 15;
  const MotionRows whole = motion_rows(all, machine, kBandwidth_hz);
  REQUIRE(whole.regression.a.rows() > 100);
  const LocalMotions known = local_motions({all[0], all[1]}, kBandwidth_hz);
  std::vector<recording::Recording> bare = all;
  for (int k = 0; k < 2; ++k)
    for (auto* samples :
         {&bare[k].time_s, &bare[k].position_a_m, &bare[k].position_b_m, &bare[k].force_a_n, &bare[k].force_b_n})
      samples->clear();
  const MotionRows rest = motion_rows(bare, machine, kBandwidth_hz, known);
  CHECK(rest.regression.a == whole.regression.a);
  CHECK(rest.regression.y == whole.regression.y);
  CHECK(rest.regression.group == whole.regression.group);
  CHECK(rest.regression.cluster == whole.regression.cluster);
  CHECK(rest.regression.prior_mean == whole.regression.prior_mean);
  CHECK(rest.recording == whole.recording);
  CHECK(rest.time_s == whole.time_s);
  CHECK(rest.switch_ons == whole.switch_ons);
  CHECK(rest.reference_y_m == whole.reference_y_m);
}

// What papers say of a side is said of both alike: seen in a mirror the machine is held to the same. With 2000 N and
// 0.5 m/s a friction of 3 % of the force at full speed is 120 N s/m, and three times that is no surprise.
TEST_CASE("what is expected before any recording is alike of both sides, and as the papers' force and speed say") {
  machine::Machine machine;
  machine.span_m = 1.5;
  machine.a.peak_force_n = 2000, machine.b.peak_force_n = 1500;
  machine.limits.speed_m_per_s = 0.5;
  const Regression p =
      motion_rows({swinging("first", 0.5, 0.1), swinging("second", 0.7, -0.4)}, machine, 15).regression;
  CHECK(p.prior_mean[kViscousA] == base::test::near(120));
  CHECK(p.prior_sd[kViscousA] == base::test::near(400));
  CHECK(p.prior_mean[kCoulombA] == base::test::near(60));
  for (const auto& [a, b] : {std::pair{kViscousA, kViscousB}, std::pair{kCoulombA, kCoulombB}}) {
    CHECK(p.prior_mean[a] == p.prior_mean[b]);
    CHECK(p.prior_sd[a] == p.prior_sd[b]);
  }
}

}  // namespace evenbeam::identification
