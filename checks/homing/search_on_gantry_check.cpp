// A search for marks played on the virtual gantry against the same search with sides that follow exactly: friction,
// inertia and loops change where the sides stand by less than the hold error that the plan was told, not which mark
// is seen. No outside number: the outside is the gantry.
#include <doctest/doctest.h>

#include <cmath>

#include "homing/search_plan.h"
#include "homing/search_replay.h"
#include "sample_machine.h"

namespace evenbeam::homing {

TEST_CASE("the gantry holds the skew that the search began with, and both ends stand where exact sides would") {
  for (const Controller moves : {Controller::one_command, Controller::each_its_own})
    for (const int direction : {1, -1})
      for (const double skew_m : {-0.3e-3, 0.3e-3}) {
        CAPTURE(static_cast<int>(moves));
        CAPTURE(direction);
        CAPTURE(skew_m);
        SearchProblem p{.reference = Reference::single_mark, .controller = moves, .direction = direction};
        p.start_m = direction > 0 ? Interval{-12e-3, -10e-3} : Interval{10e-3, 12e-3};
        p.a.mark_m = {0, 0}, p.b.mark_m = {0.4e-3, 0.5e-3};
        p.start_skew_m = {-0.3e-3, 0.3e-3};
        p.allowable_skew_m = 5e-3;
        p.speed_m_per_s = 0.02, p.acceleration_m_per_s2 = 0.4;
        p.latch_delay_s = {0, 2e-3};
        p.hold_error_m = 0.1e-3;
        const SearchPlan plan = plan_search(p);
        REQUIRE(plan.promised);
        const FailingStart start{.mean_m = direction > 0 ? -10e-3 : 10e-3,
                                 .skew_m = skew_m,
                                 .mark_b_m = 0.5e-3,
                                 .delay_a_s = 2e-3,
                                 .delay_b_s = 1e-3};
        const Replay exact = replay_search(p, plan, start, std::nullopt);
        const Replay played = replay_search(p, plan, start, checks::sample_machine());
        REQUIRE(played.on_virtual_gantry);
        CHECK(played.outcome == "both marks are seen");
        CHECK(exact.outcome == played.outcome);
        CHECK(std::abs(played.skew_m.front() - skew_m) < 5e-6);
        CHECK(std::abs(played.skew_m.back() - exact.skew_m.back()) < p.hold_error_m);
        CHECK(std::abs(played.a_from_mark_m.back() - exact.a_from_mark_m.back()) < p.hold_error_m);
        CHECK(std::abs(played.b_from_mark_m.back() - exact.b_from_mark_m.back()) < p.hold_error_m);
        // A side that searches for itself stops a braking way and a latch's delay beyond its mark.
        const double braking_m = 0.02 * 0.02 / 2 / 0.4;
        if (moves == Controller::each_its_own)
          CHECK(exact.a_from_mark_m.back() <= 2 * braking_m + 0.02 * 2e-3 + 1e-9);
      }
}

}  // namespace evenbeam::homing
