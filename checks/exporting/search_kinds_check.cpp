// search.st of every kind of reference and both kinds of controller, both directions, against the virtual gantry from
// corners of the promised range (search_bench.h). Wanted: the right zeros, the bridge free again, nothing left
// leaning on a stop, forces at a stop no larger than what finds it; and where B has nothing to find, both stop and
// say so. No outside number: the outside is the gantry, and marks whose places the program is not told.
#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <utility>

#include "search_bench.h"

using namespace evenbeam;
using namespace evenbeam::checks;
using homing::Controller;
using homing::Interval;
using homing::Reference;

namespace {

constexpr double pitch_m = 0.02, code_step_m = 20e-6, mark_m = 0.05, stop_force_n = 200;

Interval along(int direction, double low, double high) {
  return direction > 0 ? Interval{low, high} : Interval{-high, -low};
}

// B's ahead of A's. Where both stand at their stops the guides fight with 100 N a millimetre, which is missing at one
// stop: stops are set closer than marks need to be.
double apart_m(Reference reference) { return reference == Reference::hard_stop ? 0.4e-3 : 2e-3; }

homing::SearchProblem problem_of(Reference reference, Controller controller, int direction) {
  homing::SearchProblem p = problem();
  p.reference = reference, p.controller = controller, p.direction = direction;
  p.a.mark_m = along(direction, mark_m - 0.1e-3, mark_m + 0.1e-3);
  p.b.mark_m = along(direction, mark_m + apart_m(reference) - 0.2e-3, mark_m + apart_m(reference) + 0.2e-3);
  p.start_m = along(direction, 0, 0.03), p.travel_m = {-0.3, 0.3};
  if (reference == Reference::periodic) p.pitch_m = pitch_m, p.start_m = along(direction, 0.034, 0.04);
  if (reference == Reference::distance_coded) p.pitch_m = pitch_m, p.code_step_m = 60 * code_step_m;
  if (reference == Reference::switch_and_mark) {
    p.pitch_m = pitch_m;
    p.a.edge_m = along(direction, mark_m - 9e-3, mark_m - 7e-3);
    p.b.edge_m = along(direction, mark_m + apart_m(reference) - 9e-3, mark_m + apart_m(reference) - 7e-3);
  }
  if (reference == Reference::hard_stop)
    p.stop_force_n = stop_force_n, p.force_limit_n = 250, p.stop_give_m = 0.05e-3;
  return p;
}

Stand stand_of(const homing::SearchProblem& p, int direction, bool high) {
  const auto end = [&](const Interval& i) { return high ? i.high : i.low; };
  Stand s{.mean_m = end(p.start_m), .skew_m = end(p.start_skew_m), .direction = direction};
  s.a.mark_m = end(p.a.mark_m), s.b.mark_m = s.a.mark_m + direction * apart_m(p.reference);
  for (auto [rail, side] : {std::pair{&s.a, &p.a}, std::pair{&s.b, &p.b}}) {
    rail->pitch_m = p.pitch_m.value_or(0);
    if (p.reference == Reference::distance_coded) rail->code_step_m = code_step_m;
    if (p.reference == Reference::switch_and_mark) rail->edge_m = end(side->edge_m);
    rail->wall = p.reference == Reference::hard_stop;
  }
  s.absolute = p.reference == Reference::absolute;
  if (p.reference == Reference::hard_stop)
    s.stop_force_n = stop_force_n, s.stop_stiffness_n_per_m = stop_force_n / p.stop_give_m;
  return s;
}

std::string source_of(const homing::SearchProblem& p, int direction) {
  const auto plan = homing::plan_search(p);
  REQUIRE(plan.promised);
  homing::SearchRecipe r = recipe(p, plan);
  r.home_offset_b_m = direction * apart_m(p.reference);
  r.largest_skew_change_m = 4e-3;  // sides that stop at their own marks end 2 mm apart
  r.stop_force_n = p.stop_force_n.value_or(0);
  const auto made = exporting::search_text(r, {}, cycle_s);
  REQUIRE(made.lacking == "");
  return made.text;
}

}  // namespace

TEST_CASE("search.st finds the right zeros for every kind of reference, controller and direction") {
  for (int kind = 0; kind < 7; ++kind)
    for (const Controller controller : {Controller::one_command, Controller::each_its_own})
      for (const int direction : {1, -1}) {
        const auto reference = static_cast<Reference>(kind);
        CAPTURE(kind);
        CAPTURE(static_cast<int>(controller));
        CAPTURE(direction);
        const homing::SearchProblem p = problem_of(reference, controller, direction);
        const Stand stand = stand_of(p, direction, direction < 0);
        const std::string source = source_of(p, direction);
        const Outcome o = Bench(source, stand).run({});
        CAPTURE(o.reason);
        CAPTURE(o.seconds);
        CHECK(o.done);
        const bool wall = reference == Reference::hard_stop, repeats = reference == Reference::periodic;
        const double off_a = o.zero_a_m - stand.a.mark_m, off_b = o.zero_b_m - stand.a.mark_m;
        const double close = wall ? p.stop_give_m + 20e-6 : 2e-6;  // a stop gives, and damps where it is met
        CHECK(std::abs(repeats ? std::remainder(off_a, pitch_m) : off_a) < close);
        CHECK(std::abs(off_a - off_b) < (wall ? p.stop_give_m : 3e-6));
        CHECK(std::abs(o.true_skew_m) < (wall ? p.stop_give_m : 5e-6));
        if (wall) {
          CHECK(o.lean_m < -1e-3);
          CHECK(o.largest_force_n < stop_force_n + 1e-9);
        }
        if (reference == Reference::absolute) continue;
        const Outcome missed = Bench(source, stand).run({.no_mark_b = true});
        CHECK(missed.failed);
        CHECK(missed.reason >= 4);
        CHECK(missed.reason <= 8);
        CHECK(missed.end_speed_m_per_s == 0);
      }
}
