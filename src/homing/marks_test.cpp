#include "homing/marks.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "base/near_test.h"

namespace evenbeam::homing {
namespace {

// One search by hand at 1 kHz: 20 mm/s for 1.2 s, then 10 mm/s until 3 s. B is commanded and held 1 mm ahead, but
// strays by 30 um for a tenth of a second. A's mark is latched at 1 s, B's at 1.5 s.
recording::Recording searched() {
  recording::Recording r{.name = "search.csv", .kind = recording::RunKind::search, .period_s = 1e-3};
  const double none = std::numeric_limits<double>::quiet_NaN();
  for (int k = 0; k <= 3000; ++k) {
    const double t = 1e-3 * k, x = t < 1.2 ? 0.02 * t : 0.024 + 0.01 * (t - 1.2);
    r.time_s.push_back(t);
    r.reference_a_m.push_back(x), r.reference_b_m.push_back(x + 1e-3);
    r.position_a_m.push_back(x), r.position_b_m.push_back(x + 1e-3 + (k > 800 && k < 900 ? 30e-6 : 0));
    r.latched_a_m.push_back(k >= 1000 ? 0.0199 : none), r.latched_b_m.push_back(k >= 1500 ? 0.0279 : none);
  }
  return r;
}
machine::Machine bridge() {
  machine::Machine m;
  m.span_m = 2;
  return m;
}

// The guides free of moment where B stands 1 mm ahead, known to 0.1 N of 5e5 N/m; friction 50 and 30 N.
identification::MotionFit free_at_1_mm() {
  using namespace identification;
  MotionFit fit;
  fit.done = true;
  fit.switch_ons = {{"search.csv", math::with_sd(-1e-3, 2e-7)}};
  fit.yaw_stiffness_n_m_per_rad = math::with_sd(2e6, 0);
  fit.coulomb_a_n = math::with_sd(50, 0), fit.coulomb_b_n = math::with_sd(30, 0);
  fit.x = Eigen::VectorXd::Zero(kFixedCount + 1);
  fit.x[kStiffness] = 5e5, fit.x[kFixedCount] = -500;
  fit.covariance = Eigen::MatrixXd::Zero(kFixedCount + 1, kFixedCount + 1);
  fit.covariance(kFixedCount, kFixedCount) = 0.01;
  return fit;
}

}  // namespace

TEST_CASE("what one search shows, by hand: speed at the later mark, way between the marks and after, straying skew") {
  const Marks marks = find_marks({searched()}, {}, bridge());
  REQUIRE(marks.runs.size() == 1);
  const SearchRun& run = marks.runs[0];
  CHECK(run.both_seen);
  CHECK(run.speed_m_per_s == base::test::near(0.01));
  CHECK(run.beyond_first_m == base::test::near(0.027 - 0.02));
  CHECK(run.left_after_m == base::test::near(0.042 - 0.027));
  CHECK(run.hold_error_m == base::test::near(30e-6));
  CHECK(run.start_b_m == base::test::near(1e-3));
  CHECK_FALSE(marks.known);  // nobody knows where the guides are free
  CHECK(marks.naive_low_m == base::test::near(0.0199 - 0.0279));
}

TEST_CASE("where the stress-free skew is not known, what the mountings take bounds the marks' difference") {
  const Marks marks = find_marks({searched()}, {}, bridge(), 2e-3);
  REQUIRE(marks.b_minus_a_bounds_m);
  CHECK(marks.b_minus_a_bounds_m->low == base::test::near(-8e-3 - 2e-3));
  CHECK(marks.b_minus_a_bounds_m->high == base::test::near(-8e-3 + 2e-3));
}

TEST_CASE("a pitch slipped in one search is taken out of the bare differences") {
  std::vector<recording::Recording> searches{searched(), searched(), searched()};
  for (std::size_t k = 0; k < searches.size(); ++k) searches[k].name = "search" + std::to_string(k);
  for (double& x : searches[2].latched_b_m) x += 20e-3;
  machine::Machine m = bridge();
  m.a.mark_pitch_m = m.b.mark_pitch_m = 20e-3;
  const Marks marks = find_marks(searches, {}, m, 2e-3);
  CHECK(marks.naive_low_m == base::test::near(-8e-3));
  CHECK(marks.naive_high_m == base::test::near(-8e-3));
}

TEST_CASE("b - a by hand: what two equal searches share is the skew of no moment and friction of no law") {
  std::vector<recording::Recording> searches{searched(), searched()};
  for (recording::Recording& r : searches) r.switch_on = "search.csv";
  searches[1].name = "again.csv";
  const Marks marks = find_marks(searches, free_at_1_mm(), bridge());
  REQUIRE(marks.known);
  CHECK(marks.b_minus_a_free_m.value == base::test::near(-8e-3 + 1e-3));
  // 0.1 N / 5e5 N/m = 0.2 um; 5e-4 of 80 N on 2 m at 2e6 N m/rad = 0.08 um; no scatter.
  CHECK(marks.b_minus_a_free_m.sd == base::test::near(std::hypot(0.2e-6, 0.08e-6)).epsilon(1e-3));
}

}  // namespace evenbeam::homing
