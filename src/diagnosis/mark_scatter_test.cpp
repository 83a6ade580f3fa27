#include "diagnosis/mark_scatter.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "diagnosis/spring_fit_test.h"

namespace evenbeam::diagnosis {
namespace {

// Five searches, each its own switch-on with its stress-free skew good to 3 um, counts of 1 um; b - a as given.
struct Searches {
  std::vector<base::StationResult> done;
  std::vector<recording::Recording> recordings;
  identification::MotionFit fit = spring_fit();
};
Searches searches(const std::vector<double>& b_minus_a_m) {
  Searches out;
  std::vector<base::Row> rows;
  for (std::size_t k = 0; k < b_minus_a_m.size(); ++k) {
    recording::Recording r;
    r.name = "search-" + std::to_string(k) + ".csv", r.switch_on = "on " + std::to_string(k);
    r.count_a_m = r.count_b_m = 1e-6;
    out.fit.switch_ons.push_back({r.switch_on, math::with_sd(0, 3e-6)});
    rows.push_back({{"run", r.name}, {"b_minus_a_m", 1e-3 + b_minus_a_m[k]}});
    out.recordings.push_back(r);
  }
  out.done = {{.name = "marks", .values = {{"searches", base::Value{.value = rows}}}}};
  return out;
}

}  // namespace

// u^2 = 9 + 1/6 um^2 = 9.167; sum of squares 0 + 400 + 400 + 100 + 100 = 1000 um^2: chi^2 109.1, sd 15.8 um; the
// 99.9 % point of four degrees is 18.47, and a scatter of 3.028 sqrt(18.47/4 - 1) = 5.76 um is the least that is
// seen.
TEST_CASE("marks that scatter by 16 um where searches are good to 3 um are loose; by 3 um they are not") {
  const Searches s = searches({0, 20e-6, -20e-6, 10e-6, -10e-6});
  const auto scatter = mark_scatter(s.done, s.recordings, s.fit);
  REQUIRE(scatter.has_value());
  CHECK(scatter->searches == 5);
  CHECK(scatter->chi_square == base::test::near(109.09).epsilon(1e-3));
  CHECK(scatter->limit == base::test::near(18.467).epsilon(1e-3));
  CHECK(scatter->least_m == base::test::near(5.759e-6).epsilon(1e-3));
  const auto causes = marks_scatter(scatter);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(15.811e-6).epsilon(1e-3));
  const Searches firm = searches({0, 4e-6, -4e-6, 2e-6, -2e-6});
  CHECK(marks_scatter(mark_scatter(firm.done, firm.recordings, firm.fit)).empty());
}

// u^2 = 9 + 40^2/6 um^2 = 275.67, so chi^2 1000/275.67. Counts of 200 um: several of them are the least that is seen.
TEST_CASE("a search is as good as the coarser side's count, whichever side that is") {
  for (const double count_m : {40e-6, 200e-6}) {
    std::vector<double> least;
    for (const bool on_a : {true, false}) {
      Searches s = searches({0, 20e-6, -20e-6, 10e-6, -10e-6});
      for (recording::Recording& r : s.recordings) (on_a ? r.count_a_m : r.count_b_m) = count_m;
      const auto scatter = mark_scatter(s.done, s.recordings, s.fit);
      REQUIRE(scatter.has_value());
      const double own_m = std::sqrt(9e-12 + count_m * count_m / 6);
      CHECK(scatter->own_m == base::test::near(own_m).epsilon(1e-3));
      CHECK(scatter->chi_square == base::test::near(1000e-12 / (own_m * own_m)).epsilon(1e-3));
      CHECK(marks_scatter(scatter).empty());
      least.push_back(scatter->least_m);
    }
    CHECK(least[0] == least[1]);
    CHECK(least[0] > 0.9 * count_m);
  }
}

TEST_CASE("two searches tell no scatter, and marks that drift are told by that alone") {
  const Searches two = searches({0, 40e-6});
  CHECK_FALSE(mark_scatter(two.done, two.recordings, two.fit).has_value());
  Searches drift = searches({0, 20e-6, 40e-6, 60e-6, 80e-6});
  CHECK(mark_scatter(drift.done, drift.recordings, drift.fit).has_value());
  drift.done[0].findings.push_back({.id = "marks_drift", .verdict = base::Verdict::attention});
  CHECK_FALSE(mark_scatter(drift.done, drift.recordings, drift.fit).has_value());
}

}  // namespace evenbeam::diagnosis
