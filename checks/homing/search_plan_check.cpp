// The planner's promise against searches played through by a simulator that shares no code with it. Random machines;
// EVENBEAM_SEARCHES sets how many searches are played (a hundredth of a million where it is not set). No outside
// number stands here: the outside is the simulator.
#include <doctest/doctest.h>

#include <cstdlib>

#include "base/near_test.h"
#include "homing/search_plan.h"
#include "math/random.h"
#include "search_simulator.h"

namespace evenbeam::homing {
namespace {

using checks::Nature;
using checks::Search;
using checks::TypedIn;
using math::Random;

Interval around(double middle, double half) { return {middle - half, middle + half}; }

SearchProblem random_problem(Random& r) {
  SearchProblem p;
  p.reference = static_cast<Reference>(r.below(7));
  p.controller = r.below(2) == 0 ? Controller::one_command : Controller::each_its_own;
  const double apart = r.uniform(-4e-3, 4e-3), doubt = r.uniform(0, 0.2e-3);
  p.a.mark_m = around(0, doubt), p.b.mark_m = around(apart, doubt);
  if (r.below(3) != 0 || p.reference == Reference::periodic || p.reference == Reference::distance_coded)
    p.pitch_m = r.uniform(5e-3, 40e-3);
  p.code_step_m = r.uniform(10e-6, 40e-6);
  p.edge_shared = r.below(3) == 0;
  const double room = p.pitch_m.value_or(20e-3);
  p.direction = r.below(3) == 0 ? std::nullopt : std::optional(r.below(2) == 0 ? 1 : -1);
  const double d = p.direction.value_or(1);
  for (auto* side : {&p.a, &p.b}) {
    const double mark = (side->mark_m.low + side->mark_m.high) / 2;
    side->edge_m = around(mark - d * room * r.uniform(-0.05, 1.05), r.uniform(0, 0.1) * room);
    if (r.below(2) == 0) side->back_off_edge_m = around(mark - d * r.uniform(0, 80e-3), r.uniform(0, 1e-3));
  }
  p.start_m = around(-d * r.uniform(0, 60e-3), r.uniform(0, p.reference == Reference::periodic ? 6e-3 : 40e-3));
  p.start_skew_m = around(r.uniform(-1e-3, 1e-3), r.uniform(0, 2e-3));
  p.hold_error_m = r.below(2) == 0 ? 0 : r.uniform(0, 0.2e-3);
  p.speed_m_per_s = r.uniform(2e-3, 60e-3);
  p.acceleration_m_per_s2 = r.uniform(0.1, 3);
  p.latch_delay_s = {0, r.uniform(0, 4e-3)};
  p.travel_m = {std::min(-r.uniform(0.05, 0.3), p.start_m.low - 3e-3),
                std::max(r.uniform(0.02, 0.3), p.start_m.high + 3e-3)};  // a start lies inside the travel
  p.free_skew_m = r.uniform(-0.5e-3, 0.5e-3);
  if (r.below(2) == 0) p.allowable_skew_m = r.uniform(1e-3, 8e-3);
  p.stop_give_m = r.uniform(0, 0.1e-3);
  if (r.below(4) == 0) p.force_limit_n = 200, p.stop_force_n = r.uniform(50, 250);
  if (p.stop_force_n && r.below(2) == 0)
    p.friction_a_n = r.uniform(0, 120), p.friction_b_n = r.uniform(0, 120), p.guide_n_per_m = r.uniform(0, 1e5),
    p.mass_kg = r.uniform(10, 400);
  if (r.below(3) == 0) p.a_leads = r.below(2) == 0;
  return p;
}

TypedIn typed_in(const SearchPlan& plan) {
  return {plan.way.direction, plan.way.a_leads, plan.way.backs_off, plan.way.overtravel_m, plan.way.longest_run_m};
}

// `corners`: every range at one of its ends, else inside.
double draw(Random& r, const Interval& i, bool corners) {
  return corners ? (r.below(2) == 0 ? i.low : i.high) : i.low + (i.high - i.low) * r.uniform();
}

Nature draw_nature(Random& r, const SearchProblem& p, bool a_leads, bool corners) {
  Nature n{.mean_m = draw(r, p.start_m, corners), .skew_m = draw(r, p.start_skew_m, corners)};
  n.mark_a_m = draw(r, p.a.mark_m, corners), n.mark_b_m = draw(r, p.b.mark_m, corners);
  n.edge_a_m = draw(r, p.a.edge_m, corners), n.edge_b_m = draw(r, p.b.edge_m, corners);
  if (const auto& edge = (a_leads ? p.a : p.b).back_off_edge_m) n.back_edge_m = draw(r, *edge, corners);
  for (double& h : n.hold_m) h = draw(r, around(0, p.hold_error_m), corners);
  for (double* delay : {&n.delay_a_s, &n.delay_b_s, &n.back_delay_s}) *delay = draw(r, p.latch_delay_s, corners);
  n.give_a_m = draw(r, {0, p.stop_give_m}, corners), n.give_b_m = draw(r, {0, p.stop_give_m}, corners);
  n.friction_a_n = draw(r, {0, p.friction_a_n.value_or(0)}, corners);
  n.friction_b_n = draw(r, {0, p.friction_b_n.value_or(0)}, corners);
  n.code_number = static_cast<long>(r.below(100));
  return n;
}

// The start that the planner says fails, with everything else as it says.
Nature nature_of(const FailingStart& s, const SearchPlan& plan, const SearchProblem& p) {
  Nature n{s.mean_m, s.skew_m, s.mark_a_m, s.mark_b_m, s.edge_a_m, s.edge_b_m};
  const double lead = s.mean_m + (plan.way.a_leads ? 0.5 : -0.5) * s.skew_m;
  n.back_edge_m = lead + plan.way.direction * 1e-12;  // it stands where backing off has left it
  for (double& h : n.hold_m) h = s.hold_m;
  n.delay_a_s = s.delay_a_s, n.delay_b_s = s.delay_b_s, n.give_a_m = s.give_a_m, n.give_b_m = s.give_b_m;
  n.friction_a_n = p.friction_a_n.value_or(0), n.friction_b_n = p.friction_b_n.value_or(0);
  return n;
}

long searches_wanted() {
  const char* text = std::getenv("EVENBEAM_SEARCHES");
  return text != nullptr ? std::atol(text) : 10000;
}

}  // namespace

TEST_CASE("a search promised to succeed succeeds, and a start said to fail fails") {
  Random r(20260131);
  long searches = 0, promised = 0, machines = 0, failing = 0, repaired = 0;
  std::array<int, 7> promised_of{}, refused_of{};
  int too_weak = 0;
  while (searches < searches_wanted()) {
    const SearchProblem p = random_problem(r);
    const SearchPlan plan = plan_search(p);
    REQUIRE(plan.possible);
    ++machines;
    CAPTURE(machines);
    CAPTURE(static_cast<int>(p.reference));
    CAPTURE(static_cast<int>(p.controller));
    CAPTURE(plan.way.direction);
    CAPTURE(plan.way.a_leads);
    CAPTURE(plan.way.backs_off);
    ++(plan.promised ? promised_of : refused_of)[static_cast<size_t>(p.reference)];
    if (plan.promised) {
      ++promised;
      for (int i = 0; i < 8; ++i, ++searches) {
        const Nature n = draw_nature(r, p, plan.way.a_leads, i % 2 == 0);
        CAPTURE(i);
        REQUIRE(Search(p, typed_in(plan), n).run() == "");
      }
      continue;
    }
    for (const SearchTrouble& trouble : plan.troubles) {
      if (trouble.short_by < (in_newtons(trouble.promise) ? 1e-5 : 1e-8))
        continue;  // closer than the rounding that the promise keeps clear of
      CAPTURE(to_text(trouble.promise));
      CAPTURE(trouble.short_by);
      // Backing off ends in the running itself: the place it ends at is part of the corner, not of the simulator.
      if (plan.way.backs_off && (trouble.promise == Promise::travel || trouble.promise == Promise::skew)) continue;
      CHECK_FALSE(Search(p, typed_in(plan), nature_of(trouble.start, plan, p)).run().empty());
      ++searches, ++failing;
      too_weak += trouble.promise == Promise::reaches_stop_lead || trouble.promise == Promise::reaches_stop_other;
    }
    if (!plan.repairs_suffice) continue;
    ++repaired;
    SearchProblem better = p;
    for (const Repair& repair : plan.repairs) better = changed(better, repair, plan.way.a_leads);
    const SearchCase way = judge_case(better, plan.way.direction, plan.way.a_leads, plan.way.backs_off);
    CHECK(way.holds());
    const TypedIn typed{way.direction, way.a_leads, way.backs_off, way.overtravel_m, way.longest_run_m};
    for (int i = 0; i < 4; ++i, ++searches)
      CHECK(Search(better, typed, draw_nature(r, better, way.a_leads, i % 2 == 0)).run() == "");
  }
  MESSAGE(searches << " searches on " << machines << " machines, " << promised << " promised, " << failing
                   << " failing starts played, " << repaired << " repaired");
  CHECK(too_weak > 5);
  for (size_t i = 0; i < promised_of.size(); ++i) {
    CAPTURE(i);
    CHECK(promised_of[i] > 10);
    CHECK(refused_of[i] > 0);
  }
}

TEST_CASE("the over-travel is within 5 % of the smallest that works") {
  Random r(7);
  int tried = 0;
  while (tried < 100) {
    SearchProblem p = random_problem(r);
    p.controller = Controller::one_command;
    if (p.reference == Reference::absolute || p.reference == Reference::distance_coded ||
        p.reference == Reference::hard_stop)
      continue;
    const SearchPlan plan = plan_search(p);
    if (!plan.promised) continue;
    ++tried;
    std::vector<Nature> natures;
    for (int i = 0; i < 3000; ++i) natures.push_back(draw_nature(r, p, plan.way.a_leads, true));
    TypedIn typed = typed_in(plan);
    const auto works = [&](double overtravel) {
      typed.overtravel_m = overtravel;
      for (const Nature& n : natures)
        if (!Search(p, typed, n).run().empty()) return false;
      return true;
    };
    CAPTURE(tried);
    CHECK(works(plan.way.overtravel_m));
    CHECK_FALSE(works(0.95 * plan.way.overtravel_m));
  }
}

TEST_CASE("rules of the trade: leading mark first prolongs the move, the other's first sets the start back") {
  SearchProblem p{.start_m = {-60e-3, -50e-3}, .start_skew_m = {-0.5e-3, 0.5e-3}, .direction = 1, .a_leads = true};
  p.b.mark_m = {3e-3, 3e-3};
  const double stop = p.speed_m_per_s * p.speed_m_per_s / 2 / p.acceleration_m_per_s2;
  SearchPlan plan = plan_search(p);
  CHECK(plan.promised);
  CHECK(plan.way.overtravel_m == base::test::near(3.5e-3));
  CHECK(plan.way.start_before_first_m == base::test::near(0.25e-3 + stop));
  p.b.mark_m = {-3e-3, -3e-3};
  plan = plan_search(p);
  CHECK(plan.promised);
  CHECK(plan.way.overtravel_m == base::test::near(stop));
  CHECK(plan.way.beyond_first_m == base::test::near(3.5e-3 + stop));
  CHECK(plan.way.latest_start_m == base::test::near(-3e-3 - 0.25e-3 - stop));
  p.start_m.high = -2e-3;  // between the two marks: the other's is missed
  plan = plan_search(p);
  CHECK_FALSE(plan.promised);
  REQUIRE(plan.repairs.size() == 1);
  CHECK(plan.repairs[0].what == Changed::start_high);
  CHECK(plan.repairs_suffice);
}

TEST_CASE("a flag too near its mark is moved by what is missing") {
  SearchProblem p{.reference = Reference::switch_and_mark, .start_m = {-60e-3, -50e-3}, .direction = 1};
  p.pitch_m = 10e-3;
  p.a.edge_m = {-5.2e-3, -4.8e-3};
  p.b.edge_m = {-1.1e-3, 2.1e-3};  // hysteresis of 3.2 mm reaches over the mark at zero
  const SearchPlan plan = plan_search(p);
  CHECK_FALSE(plan.promised);
  REQUIRE(plan.repairs.size() == 1);
  CHECK(plan.repairs[0].what == Changed::switch_b);
  CHECK(plan.repairs[0].by_m == base::test::near(-2.1e-3));
  CHECK(plan.repairs_suffice);
  CHECK(repair_text(plan.repairs[0], true) == "move B's flag by 2.100 mm towards -x");
}

TEST_CASE("a force too weak to reach a stop: more of it, or the stop nearer where the guides take no more") {
  // B's stop 0.4 mm behind A's: 40 N of pull on top of 120 N of friction.
  SearchProblem p{.reference = Reference::hard_stop, .start_m = {-20e-3, -10e-3}, .direction = 1};
  p.b.mark_m = {0.4e-3, 0.4e-3};
  p.stop_force_n = 150, p.friction_a_n = 60, p.friction_b_n = 120, p.guide_n_per_m = 1e5, p.mass_kg = 100;
  SearchPlan plan = plan_search(p);
  CHECK_FALSE(plan.promised);
  REQUIRE(plan.troubles.size() == 1);
  CHECK(plan.troubles[0].promise == (plan.way.a_leads ? Promise::reaches_stop_other : Promise::reaches_stop_lead));
  CHECK(plan.troubles[0].short_by == base::test::near(10));
  REQUIRE(plan.repairs.size() == 1);
  CHECK(plan.repairs_suffice);
  CHECK(repair_text(plan.repairs[0], plan.way.a_leads) == "find the stops with 11 N more");
  p.force_limit_n = 155;
  plan = plan_search(p);
  REQUIRE(plan.repairs.size() == 1);
  CHECK(plan.repairs_suffice);
  CHECK(repair_text(plan.repairs[0], plan.way.a_leads) == "move the mark or stop of B by 0.100 mm towards -x");
  p.force_limit_n.reset(), p.stop_force_n = 161;
  CHECK(plan_search(p).promised);
  p.stop_force_n = 80, p.guide_n_per_m = 0;  // nothing draws B along
  plan = plan_search(p);
  CHECK(worst_trouble(plan).promise == Promise::reaches_stop_other);
  CHECK(worst_trouble(plan).short_by == base::test::near(40));
}

}  // namespace evenbeam::homing
