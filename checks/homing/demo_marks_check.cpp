// Marks of the demo machine against its truth (demo/generator shares no code with the program).
#include <doctest/doctest.h>

#include <cmath>

#include "../demo_job.h"
#include "base/near_test.h"
#include "homing/marks_station.h"
#include "identification/motion_fit.h"

namespace evenbeam::homing {

TEST_CASE("the marks' difference at the stress-free attitude, and what a bare difference would have cost") {
  const checks::DemoJob job = checks::demo_job();
  const auto motion = identification::fit_motion(job.recordings, job.machine);
  REQUIRE(motion.done);
  const Marks marks = find_marks(job.recordings, motion, job.machine);
  REQUIRE(marks.known);
  const double truth = job.truth["marks"]["marks_a_minus_b_free_m"].get<double>();
  CAPTURE(marks.b_minus_a_free_m.value);
  CHECK(std::abs(marks.b_minus_a_free_m.value - truth) < 0.03e-3);
  CHECK(marks.b_minus_a_free_m.lower < truth);
  CHECK(marks.b_minus_a_free_m.upper > truth);
  CHECK(std::max(std::abs(marks.naive_low_m - truth), std::abs(marks.naive_high_m - truth)) > 0.1e-3);
}

TEST_CASE("offsets make both sides read equal where the guides are free") {
  const checks::DemoJob job = checks::demo_job();
  const auto motion = identification::fit_motion(job.recordings, job.machine);
  const auto out = marks_station(job.recordings, job.machine, motion, {}).outcome;
  const double a = std::get<double>(base::find_value(out.result, "home_offset_a_m")->value);
  const double b = std::get<double>(base::find_value(out.result, "home_offset_b_m")->value);
  const double free = std::get<double>(base::find_value(out.result, "marks_a_minus_b_free_m")->value);
  CHECK(a - b == base::test::near(free));
}

TEST_CASE("a search that saw one mark only is named, and the others still count") {
  checks::DemoJob job = checks::demo_job();
  std::string blind;
  for (auto& r : job.recordings)
    if (!r.latched_b_m.empty() && blind.empty()) {
      blind = r.name;
      std::fill(r.latched_b_m.begin(), r.latched_b_m.end(), std::nan(""));
    }
  REQUIRE(!blind.empty());
  const auto out =
      marks_station(job.recordings, job.machine, identification::fit_motion(job.recordings, job.machine), {}).outcome;
  const base::Finding* finding = base::find_finding(out.result, "run_" + blind);
  REQUIRE(finding != nullptr);
  CHECK(finding->verdict == base::Verdict::attention);
  CHECK(base::find_value(out.result, "marks_a_minus_b_free_m") != nullptr);
}

TEST_CASE("a late latch stands out from the rest") {
  checks::DemoJob job = checks::demo_job();
  std::string slipped;
  for (auto& r : job.recordings)
    if (!r.latched_b_m.empty() && slipped.empty()) {
      slipped = r.name;
      for (double& x : r.latched_b_m) x += 1e-3;
    }
  const Marks marks =
      find_marks(job.recordings, identification::fit_motion(job.recordings, job.machine), job.machine);
  REQUIRE(marks.oddities.size() == 1);
  CHECK(marks.oddities.front().run == slipped);
  CHECK(marks.oddities.front().kind == OddKind::late_latch);
  CHECK(marks.oddities.front().side == WhichSide::b);
  CHECK(marks.oddities.front().size_m == base::test::near(1e-3).epsilon(0.02));
}

}  // namespace evenbeam::homing
