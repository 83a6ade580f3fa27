#include "nudge/wiring.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "nudge/wired_test.h"

namespace evenbeam::nudge {
namespace {

using base::Verdict;
using namespace test;

TEST_CASE("a bridge wired right: signs +1, counts in one direction, nothing stops") {
  for (unsigned seed : {1u, 2u, 3u}) {
    CAPTURE(seed);
    const base::StationResult r = answer({pushed({.seed = seed})});
    CHECK(value_of(r, "sign_a") == 1);
    CHECK(value_of(r, "sign_b") == 1);
    CHECK(verdict_of(r, "count_direction") == Verdict::pass);
    CHECK(r.verdict == Verdict::pass);
    const base::Finding* f = base::find_finding(r, "sign_b");
    CHECK(f->recording == "pushes.csv");
    CHECK(f->from_s == base::test::near(1.1));
  }
}

TEST_CASE("A's output reversed and A's feedback reversed both stop, and are told apart") {
  const base::StationResult output = answer({pushed({.output_a = -1})});
  CHECK(value_of(output, "sign_a") == -1);
  CHECK(value_of(output, "sign_b") == 1);
  CHECK(output.verdict == Verdict::stop);
  CHECK(says(output, "sign_a", "A's output (or motor direction)"));
  const base::StationResult feedback = answer({pushed({.feedback_a = -1})});
  CHECK(value_of(feedback, "sign_a") == -1);
  CHECK(feedback.verdict == Verdict::stop);
  CHECK(says(feedback, "sign_a", "A's feedback that is reversed"));
  const base::StationResult b = answer({pushed({.feedback_b = -1})});
  CHECK(value_of(b, "sign_b") == -1);
  CHECK(says(b, "sign_b", "B's feedback that is reversed"));
  // The reversed side is said once: that the directions differ follows from it.
  CHECK(base::find_finding(feedback, "count_direction") == nullptr);
  CHECK(base::find_finding(b, "count_direction") == nullptr);
}

TEST_CASE("both sides right by themselves but counting against each other stop where the ends are bolted") {
  const recording::Recording r = pushed({.output_b = -1, .feedback_b = -1});
  const base::StationResult found = answer({r});
  CHECK(value_of(found, "sign_a") == 1);
  CHECK(value_of(found, "sign_b") == 1);
  CHECK(verdict_of(found, "count_direction") == Verdict::stop);
  machine::Machine pivoted = bolted();
  pivoted.guides.ends = machine::EndKind::pivoted;
  const identification::MotionFit none;
  CHECK(verdict_of(nudge_station({r}, pivoted, {.fit = none}).result, "count_direction") == Verdict::attention);
  // For a pivoted bridge one reversed feedback is only told as "output or feedback".
  const recording::Recording reversed = pushed({.feedback_a = -1});
  CHECK(says(nudge_station({reversed}, pivoted, {.fit = none}).result, "sign_a", "Its output or its feedback"));
}

TEST_CASE("swapped feedbacks or outputs stop, and no sign is given") {
  for (const Wired& w : {Wired{.feedbacks_swapped = true}, Wired{.outputs_swapped = true},
                         Wired{.feedback_a = -1, .feedbacks_swapped = true}}) {
    CAPTURE(w.outputs_swapped);
    const base::StationResult r = answer({pushed(w)});
    CHECK(r.verdict == Verdict::stop);
    CHECK(verdict_of(r, "crossed") == Verdict::stop);
    CHECK_FALSE(value_of(r, "sign_a"));
    CHECK_FALSE(value_of(r, "sign_b"));
  }
}

TEST_CASE("a dead side stops with words that name it; a dead feedback too") {
  const base::StationResult dead = answer({pushed({.output_b = 0})});
  CHECK(dead.verdict == Verdict::stop);
  CHECK(value_of(dead, "sign_a") == 1);
  CHECK_FALSE(value_of(dead, "sign_b"));
  CHECK(says(dead, "sign_b", "side B is dead"));
  const base::StationResult blind = answer({pushed({.feedback_a = 0})});
  CHECK(blind.verdict == Verdict::stop);
  // Pushes too weak for either side beside it: then it is A's feedback, or both crossed.
  const base::StationResult seldom = answer({pushed({.feedback_a = 0}), pushed({.feedback_a = 0, .level_n = 20})});
  CHECK(says(seldom, "feedback_a", "A's own position stands still"));
  CHECK_FALSE(value_of(blind, "sign_a"));
}

TEST_CASE("pushes that contradict each other stop without a sign") {
  recording::Recording r = pushed({});
  for (std::size_t k = 0; k < r.time_s.size(); ++k)
    if (r.time_s[k] > 0.55 && r.time_s[k] < 1.05) r.force_a_n[k] = -r.force_a_n[k];  // A- written as A+
  const base::StationResult found = answer({r});
  CHECK(found.verdict == Verdict::stop);
  CHECK_FALSE(value_of(found, "sign_a"));
  CHECK(value_of(found, "sign_b") == 1);
}

TEST_CASE("of how many pushes the directions are told") {
  const recording::Recording r = pushed({});
  const Wiring found = judge_wiring(find_pushes(r), {.same = true, .for_same = 5, .for_opposite = 1}, bolted());
  REQUIRE_FALSE(found.findings.empty());
  CHECK(found.findings.back().text.find("5 of 6 pushes") != std::string::npos);
}

TEST_CASE("directions: a closed-loop travel of the whole bridge settles them") {
  recording::Recording move{.name = "move.csv", .kind = recording::RunKind::test_move};
  for (int k = 0; k < 200; ++k) {
    move.time_s.push_back(1e-3 * k);
    move.position_a_m.push_back(1e-3 * k);
    move.position_b_m.push_back(1e-3 * k + 1e-5 * std::sin(k));
  }
  const CountDirections same = count_directions({}, {move});
  CHECK(same.same == true);
  for (double& x : move.position_b_m) x = -x;
  const std::vector<recording::Recording> opposed{move};
  CHECK_FALSE(count_directions({}, opposed).same);
}

TEST_CASE("both sides against their outputs: what goes with what is told from the counting directions") {
  const base::StationResult outputs = answer({pushed({.output_a = -1, .output_b = -1})});
  CHECK(value_of(outputs, "sign_a") == -1);
  CHECK(value_of(outputs, "sign_b") == -1);
  CHECK(says(outputs, "sign_a", "both outputs or both feedbacks"));
  const base::StationResult mixed = answer({pushed({.output_a = -1, .feedback_b = -1})});
  CHECK(value_of(mixed, "sign_a") == -1);
  CHECK(value_of(mixed, "sign_b") == -1);
  CHECK(says(mixed, "sign_a", "the output of one and the feedback of the other"));
}

TEST_CASE("a pivoted bridge loose in yaw is not stopped for its far end swinging back") {
  const recording::Recording loose = pushed({.level_n = 200, .yaw_stiffness_n_m_per_rad = 0, .coulomb_n = 5});
  machine::Machine pivoted = bolted();
  pivoted.guides.ends = machine::EndKind::pivoted;
  const identification::MotionFit none;
  const base::StationResult r = nudge_station({loose}, pivoted, {.fit = none}).result;
  CHECK(value_of(r, "sign_a") == 1);
  CHECK(value_of(r, "sign_b") == 1);
  CHECK(r.verdict != Verdict::stop);
}

}  // namespace
}  // namespace evenbeam::nudge
