#include "diagnosis/ranking.h"

#include <doctest/doctest.h>

#include "base/near_test.h"
#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

Cause said(const std::string& id, const std::string& recording, double fight_n) {
  Cause c = cause(id, math::with_sd(10, 1), "N", 1, {"", ""}, fight_n);
  c.finding.recording = recording;
  return c;
}

TEST_CASE("one of each kind, events before what others told, then by the fight, the unknown last") {
  const auto order = ranked({said("marks_run_s.csv", "s.csv", 0)},
                            {said("law_not_followed", "a.csv", 500), said("commands_apart_a.csv", "a.csv", 5),
                             said("commands_apart_b.csv", "b.csv", 9), said("fight_at_standstill", "b.csv", 100),
                             said("tripped_in_motion_a.csv", "a.csv", 0)});
  REQUIRE(order.size() == 5);
  CHECK(order[0].cause.finding.id == "tripped_in_motion_a.csv");
  CHECK(order[1].cause.finding.id == "marks_run_s.csv");
  CHECK(order[2].cause.finding.id == "fight_at_standstill");
  CHECK(order[3].cause.finding.id == "commands_apart_b.csv");
  CHECK(order[3].captures == 2);
  CHECK(order[4].cause.finding.id == "law_not_followed");
}

TEST_CASE("what the law leaves of the fight counts from a quarter of the friction: 11 of 40 N does, 9 does not") {
  identification::Identified known;
  known.motion.done = true;
  known.motion.coulomb_a_n = known.motion.coulomb_b_n = math::with_sd(40, 1);
  known.motion.recordings = {{"jog.csv", 0, 1, 100, 2, 9}};
  CHECK(law_not_followed(known).empty());
  known.motion.recordings = {{"jog.csv", 0, 1, 100, 2, 11}};
  REQUIRE(law_not_followed(known).size() == 1);
  CHECK(*law_not_followed(known)[0].finding.limit == base::test::near(10));
}

}  // namespace
}  // namespace evenbeam::diagnosis
