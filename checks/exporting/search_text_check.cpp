// search.st, run by a second reader of structured text (checks/structured_text) against the virtual gantry: the
// program makes the references, the loop law closes the loops, marks are latched where the bridge ends pass them.
// Wanted: where the planner promises, both marks are seen and the right zeros result; where something is wrong
// (no mark, a slipped pitch, a late search, a lost drive, a skew that strays) both sides stop together and say why.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "search_bench.h"

using namespace evenbeam;
using namespace evenbeam::checks;

namespace {

std::string program_for(const homing::SearchProblem& p) {
  const auto plan = homing::plan_search(p);
  REQUIRE(plan.promised);
  const auto made = exporting::search_text(recipe(p, plan), {}, cycle_s);
  REQUIRE(made.lacking == "");
  return made.text;
}

}  // namespace

TEST_CASE("both marks are seen from the corners of the promised range, and the skew is taken out") {
  const homing::SearchProblem p = problem();
  const std::string source = program_for(p);
  const homing::SearchCase way = homing::plan_search(p).way;
  for (const double mean : {p.start_m.low, p.start_m.high})
    for (const double skew : {p.start_skew_m.low, p.start_skew_m.high}) {
      CAPTURE(mean);
      CAPTURE(skew);
      const double mark_a = skew < 0 ? p.a.mark_m.low : p.a.mark_m.high, mark_b = mark_a + 2e-3;
      const Outcome o = Bench(source, mean, skew, mark_a, mark_b).run({}, 14, -1, way.a_leads);
      CHECK(o.done);
      CHECK(o.reason == 0);
      CHECK(std::abs(o.zero_a_m - mark_a) < 2e-6);
      CHECK(std::abs(o.zero_b_m - (mark_b - 2e-3)) < 2e-6);
      CHECK(std::abs(o.true_skew_m) < 5e-6);  // free again: A - B in homed coordinates is 0
      CHECK(o.beyond_m > way.overtravel_m - 5e-6);
      CHECK(o.beyond_m < way.overtravel_m + 0.1e-3);
    }
}

TEST_CASE("every way of failing stops both sides together, held, and says why") {
  const homing::SearchProblem p = problem();
  const std::string source = program_for(p);
  const auto run = [&](const Trouble& trouble) { return Bench(source, 0.01, 0.2e-3, 0.05, 0.052).run(trouble); };
  const auto plan = homing::plan_search(p);
  struct Row {
    const char* name;
    Trouble trouble;
    int reason;
  };
  const bool a = plan.way.a_leads;
  for (const Row& row :
       {Row{"A's mark missing", {.no_mark_a = true}, a ? 5 : 6},
        Row{"B's mark missing", {.no_mark_b = true}, a ? 6 : 5}, Row{"halted", {.halt = true}, 1},
        Row{"a drive lost", {.ready_lost = true}, 2}, Row{"reference in a wrong unit", {.slow_to = 0.4}, 5},
        Row{"B's mark far off", {.mark_b_shift_m = -1.5e-3}, 8}, Row{"flag set before", {.mark_stale = true}, 10},
        Row{"something pulls", {.pull_n = -3000}, 7}}) {
    CAPTURE(row.name);
    const Outcome o = run(row.trouble);
    CHECK(o.failed);
    CHECK_FALSE(o.done);
    CHECK(o.reason == row.reason);
    CHECK(o.disable == (row.reason == 2));
    CHECK(o.end_speed_m_per_s == 0);
    CHECK(o.farthest_m < p.travel_m.high);
  }
}

TEST_CASE("a search that takes longer than any that succeeds is ended by its time-out") {
  const homing::SearchProblem p = problem();
  const auto plan = homing::plan_search(p);
  homing::SearchRecipe r = recipe(p, plan);
  r.search_time_out_s = 0.8;
  const auto made = exporting::search_text(r, {}, cycle_s);
  const Outcome o = Bench(made.text, 0.01, 0, 0.05, 0.052).run({});
  CHECK(o.failed);
  CHECK(o.reason == 4);
  CHECK(o.seconds > 1.05);  // and the quarter of a second that the loops may come after
  CHECK(o.seconds < 1.05 + 0.02 / 0.4 + 0.05);
  r = recipe(p, plan);
  r.skew_time_out_s = 0.05;
  CHECK(Bench(exporting::search_text(r, {}, cycle_s).text, 0.01, 0.5e-3, 0.05, 0.052).run({}).reason == 9);
}

TEST_CASE("a text that runs too short, arms too late, checks nothing or mixes the sides does not pass") {
  const homing::SearchProblem p = problem();
  const std::string source = program_for(p);
  const bool a_leads = homing::plan_search(p).way.a_leads;
  const std::string lead = a_leads ? "A" : "B", other = a_leads ? "B" : "A";
  const auto succeeds = [&](const std::string& from, const std::string& to) {
    std::string changed = source;
    const size_t at = changed.find(from);
    REQUIRE_MESSAGE(at != std::string::npos, from);
    changed.replace(at, from.size(), to);
    for (const double skew : {p.start_skew_m.low, p.start_skew_m.high}) {
      const Outcome o = Bench(changed, 0.03, skew, 0.05, 0.052).run({});
      if (!o.done || std::abs(o.zero_a_m - 0.05) > 2e-6 || std::abs(o.zero_b_m - 0.05) > 2e-6 ||
          std::abs(o.true_skew_m) > 5e-6)
        return false;
    }
    return true;
  };
  CHECK(succeeds("Beyond < OverTravel", "Beyond < OverTravel"));
  CHECK_FALSE(succeeds("IF Mark" + lead + " THEN", "IF Mark" + other + " THEN"));
  CHECK_FALSE(succeeds("ArmedA := ArmedA OR", "ArmedA := ArmedA AND"));
  CHECK_FALSE(succeeds("LatchA - OffsetA", "LatchA + OffsetB"));
  CHECK_FALSE(succeeds("LatchB - OffsetB", "LatchB + OffsetB"));
  CHECK_FALSE(succeeds("PlaceB := PlaceB - 0.5", "PlaceB := PlaceB + 0.5"));
  CHECK_FALSE(succeeds("PlaceB := PositionB", "PlaceB := PositionA + 0.001"));
  CHECK_FALSE(succeeds("WantedA := Direction", "WantedA := -Direction"));
}

TEST_CASE("sides that search for themselves, and backing off first") {
  homing::SearchProblem p = problem();
  p.controller = homing::Controller::each_its_own;
  auto plan = homing::plan_search(p);
  homing::SearchRecipe r = recipe(p, plan);
  r.largest_skew_change_m = 4e-3;  // each stops at its own mark: 2 mm apart
  const auto own = exporting::search_text(r, {}, cycle_s);
  Outcome o = Bench(own.text, 0.01, 0.3e-3, 0.05, 0.052).run({});
  CHECK(o.done);
  CHECK(std::abs(o.zero_a_m - 0.05) < 2e-6);
  CHECK(std::abs(o.true_skew_m) < 5e-6);
  o = Bench(own.text, 0.01, 0.3e-3, 0.05, 0.052).run({.no_mark_b = true});
  CHECK(o.failed);
  CHECK(o.reason == 7);  // A stands on its mark while B runs on: the watch on the skew is the first to see it

  p = problem();
  p.start_m = {0, 0.2}, p.a_leads = true;  // anywhere: back to A's switch first
  p.a.back_off_edge_m = homing::Interval{0.009, 0.011};
  plan = homing::plan_search(p);
  REQUIRE(plan.way.backs_off);
  r = recipe(p, plan);
  r.back_off_time_out_s = 12;
  const auto back = exporting::search_text(r, {}, cycle_s);
  REQUIRE(back.lacking == "");
  o = Bench(back.text, 0.1, 0.3e-3, 0.05, 0.052).run({}, 20, 0.01);
  CHECK(o.done);
  CHECK(std::abs(o.zero_b_m - 0.05) < 2e-6);
  r.back_off_time_out_s = 1;
  CHECK(Bench(exporting::search_text(r, {}, cycle_s).text, 0.1, 0, 0.05, 0.052).run({}, 20, 0.01).reason == 3);
}

TEST_CASE("what is not promised gives no text, with why") {
  homing::SearchRecipe r;
  r.reason = "where the marks lie is not known";
  CHECK(exporting::search_text(r, {}, cycle_s).text.empty());
  CHECK(exporting::search_text(r, {}, cycle_s).lacking.find("where the marks lie") != std::string::npos);
  r.known = true, r.reason = "", r.words = "A's mark may lie behind the start";
  CHECK(exporting::search_text(r, {}, cycle_s).text.empty());
}
