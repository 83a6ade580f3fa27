#include "homing/search_replay.h"

#include <doctest/doctest.h>

#include <cmath>

namespace evenbeam::homing {

TEST_CASE("every kind of reference plays its promised start to both marks, and the start said to fail fails") {
  using enum machine::ReferenceKind;
  for (const Reference kind : {single_mark, periodic, switch_only, switch_and_mark, hard_stop})
    for (const Controller moves : {Controller::one_command, Controller::each_its_own}) {
      CAPTURE(static_cast<int>(kind));
      CAPTURE(static_cast<int>(moves));
      SearchProblem p{.reference = kind, .controller = moves, .start_m = {-12e-3, -10e-3}};
      p.a.mark_m = {0, 0}, p.b.mark_m = {1e-3, 1.1e-3};
      p.start_skew_m = {-0.3e-3, 0.3e-3};
      p.direction = 1;
      p.allowable_skew_m = 5e-3;
      if (kind == periodic || kind == switch_and_mark) p.pitch_m = 40e-3;
      if (kind == switch_and_mark) p.a.edge_m = p.b.edge_m = {-6e-3, -5e-3};
      const SearchPlan plan = plan_search(p);
      REQUIRE(plan.promised);
      const FailingStart good{
          .mean_m = -10e-3, .skew_m = 0.3e-3, .mark_b_m = 1.1e-3, .edge_a_m = -5e-3, .edge_b_m = -5e-3};
      const Replay seen = replay_search(p, plan, good, std::nullopt);
      CHECK(seen.outcome == "both marks are seen");
      // Sides that search for themselves, or run against a stop, end at their own mark; else both ran the same way.
      const double run_up = p.speed_m_per_s * p.speed_m_per_s / 2 / p.acceleration_m_per_s2;
      if (moves == Controller::each_its_own || kind == hard_stop)
        CHECK(std::abs(seen.a_from_mark_m.back() - seen.b_from_mark_m.back()) <= run_up);
      SearchProblem late = p;
      late.start_m = {-12e-3, 20e-3};
      const SearchPlan refused = plan_search(late);
      CHECK_FALSE(refused.promised);
      REQUIRE_FALSE(refused.troubles.empty());
      CHECK(replay_search(late, refused, refused.troubles.front().start, std::nullopt).outcome !=
            "both marks are seen");
    }
}

}  // namespace evenbeam::homing
