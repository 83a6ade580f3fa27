// search.st, run by a second reader of structured text (checks/structured_text) against the virtual gantry: the
// program makes the references, the loop law closes the loops, marks are latched where the bridge ends pass them.
// Wanted: where the planner promises, both marks are seen and the right zeros result; where something is wrong
// (no mark, a slipped pitch, a late search, a lost drive, a skew that strays) both sides stop together and say why.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "exporting/search_text.h"
#include "homing/search_plan.h"
#include "servo/loop_law.h"
#include "simulation/gantry.h"
#include "structured_text/interpreter.h"

using namespace evenbeam;

namespace {

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 300, p.fixed_inertia_kg_m2 = 110, p.carriage_mass_kg = 60, p.carriage_y_m = 0.4;
  p.yaw_stiffness_n_m_per_rad = 4e5, p.yaw_damping_n_m_s_per_rad = 400;
  for (dynamics::PlantSide* side : {&p.a, &p.b}) {
    side->motor_mass_kg = 40, side->coulomb_n = 40, side->viscous_n_s_per_m = 150;
  }
  p.delay_s = 3e-4, p.current_lag_s = 2e-4;
  return p;
}

machine::Settings loops() {
  machine::Settings s;
  s.period_s = 2.5e-4, s.share = 0.47, s.mass_ff_kg = 440, s.coulomb_ramp_m_per_s = 0.002;
  s.coulomb_ff_a_n = s.coulomb_ff_b_n = 40, s.viscous_ff_a_n_s_per_m = s.viscous_ff_b_n_s_per_m = 150;
  s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.mean = {20, 40000, 0.06, 1000, {}};
  s.skew = {20, 9000, 0.06, 1000, {}};
  return s;
}

homing::SearchProblem problem() {
  homing::SearchProblem p;
  p.a.mark_m = {0.0499, 0.0501}, p.b.mark_m = {0.0518, 0.0522};  // B's mark 2 mm further
  p.start_m = {0, 0.03}, p.start_skew_m = {-0.6e-3, 0.6e-3}, p.hold_error_m = 0.1e-3;
  p.speed_m_per_s = 0.02, p.acceleration_m_per_s2 = 0.4, p.latch_delay_s = {0, 2e-3}, p.travel_m = {-0.05, 0.3};
  p.direction = 1;
  return p;
}

homing::SearchRecipe recipe(const homing::SearchProblem& p, const homing::SearchPlan& plan) {
  homing::SearchRecipe r{.known = plan.possible, .promised = plan.promised, .reason = plan.reason, .words = "test"};
  r.reference = p.reference, r.controller = p.controller;
  r.direction = plan.way.direction, r.a_leads = plan.way.a_leads, r.backs_off = plan.way.backs_off;
  r.speed_m_per_s = p.speed_m_per_s, r.acceleration_m_per_s2 = p.acceleration_m_per_s2;
  r.overtravel_m = plan.way.overtravel_m, r.longest_run_m = plan.way.longest_run_m;
  r.search_time_out_s = plan.longest_s + 0.1, r.back_off_time_out_s = r.backs_off ? 5 : 0;
  r.latch_difference_m = plan.latch_difference_m, r.largest_skew_change_m = 0.5e-3;
  r.home_offset_a_m = 0, r.home_offset_b_m = 2e-3;  // homed positions equal where the bridge is free
  r.end_skew_m = 0, r.skew_rate_m_per_s = 0.5e-3, r.skew_time_out_s = 10;
  r.method_a = r.method_b = {37, "present position, after both marks were latched"};
  return r;
}

// What goes wrong in a run.
struct Trouble {
  bool no_mark_a = false, no_mark_b = false, ready_lost = false, mark_stale = false, halt = false;
  double mark_b_shift_m = 0;
  double pull_n = 0;   // on B's end from 1 s on, real newtons
  double slow_to = 1;  // the reference arrives scaled: a controller with a wrong unit
};

struct Outcome {
  bool done = false, failed = false, disable = false;
  int reason = 0;
  double true_skew_m = 0, zero_a_m = 0, zero_b_m = 0, farthest_m = 0, seconds = 0, end_speed_m_per_s = 0;
  double beyond_m = 0;  // the leading end beyond its mark where it stood
};

constexpr double cycle_s = 1e-3;

// A side's mark and latch: true place of the end against the mark, raw position kept where it is passed.
struct Latch {
  double mark_m = 0, before_m = 0, raw_before_m = 0, raw_m = 0;
  bool seen = false, gone = false;
  void look(double end_m, double raw, bool armed) {
    if (!gone && armed && !seen && before_m < mark_m && end_m >= mark_m) {
      seen = true;
      raw_m = raw_before_m + (raw - raw_before_m) * (mark_m - before_m) / (end_m - before_m);
    }
    before_m = end_m, raw_before_m = raw;
  }
};

class Bench {
 public:
  Bench(const std::string& source, double mean_m, double skew_m, double mark_a_m, double mark_b_m)
      : text_(source),
        program_(text_, "GantrySearch"),
        model_(simulation::prepare({plant(), {}}, loops().period_s)),
        state_(simulation::standing(model_, mean_m, skew_m, 1)),
        law_(servo::prepare(loops())) {
    start_ = simulation::read_feedback(model_, state_);
    a_.mark_m = mark_a_m, b_.mark_m = mark_b_m;
    a_.before_m = simulation::end_a_m(state_), b_.before_m = simulation::end_b_m(state_);
  }

  Outcome run(const Trouble& trouble, double most_s = 14, double back_switch_m = -1, bool a_leads = false) {
    a_.gone = trouble.no_mark_a, b_.gone = trouble.no_mark_b, b_.mark_m += trouble.mark_b_shift_m;
    Outcome out;
    for (int k = 0; k * cycle_s < most_s && !out.done && !out.failed; ++k) {
      cycle(k, trouble, back_switch_m);
      out.done = program_.at("Done") != 0, out.failed = program_.at("Failed") != 0;
      out.farthest_m = std::max(out.farthest_m, simulation::end_a_m(state_));
      out.seconds = k * cycle_s;
      if (program_.at("State") < 50)
        out.beyond_m = a_leads ? simulation::end_a_m(state_) - a_.mark_m : simulation::end_b_m(state_) - b_.mark_m;
    }
    out.end_speed_m_per_s = std::abs(program_.at("SpeedA")) + std::abs(program_.at("SpeedB"));
    for (int k = 0; k < 300; ++k) cycle(-1, {}, back_switch_m);  // comes to rest
    out.reason = static_cast<int>(program_.at("Reason")), out.disable = program_.at("Disable") != 0;
    out.true_skew_m = simulation::end_a_m(state_) - simulation::end_b_m(state_);
    out.zero_a_m = program_.at("ZeroA") + start_.a_m, out.zero_b_m = program_.at("ZeroB") + start_.b_m;
    return out;
  }

 private:
  void cycle(int k, const Trouble& trouble, double back_switch_m) {
    const double t = k * cycle_s;
    program_.at("Start") = k > 2;
    program_.at("BothReady") = !(trouble.ready_lost && t > 1);
    program_.at("Halt") = trouble.halt && t > 1;
    program_.at("PositionA") = raw_.a_m, program_.at("PositionB") = raw_.b_m;
    program_.at("MarkA") = a_.seen || trouble.mark_stale, program_.at("MarkB") = b_.seen;
    program_.at("LatchA") = a_.raw_m, program_.at("LatchB") = b_.raw_m;
    if (back_switch_m > -1) program_.at("BackSwitch") = simulation::end_a_m(state_) < back_switch_m;
    program_.run(cycle_s * 1e3);
    if (trouble.pull_n != 0 && t > 1) state_.b.broken.force_added_n = trouble.pull_n;
    const bool arm_a = program_.at("ArmA") != 0, arm_b = program_.at("ArmB") != 0;
    const simulation::Read before = wanted_;
    wanted_ = {trouble.slow_to * program_.at("PlaceA"), trouble.slow_to * program_.at("PlaceB")};
    const int periods = static_cast<int>(std::lround(cycle_s / loops().period_s));
    for (int i = 1; i <= periods; ++i) {
      const double part = static_cast<double>(i) / periods;
      const double ra = before.a_m + part * (wanted_.a_m - before.a_m),
                   rb = before.b_m + part * (wanted_.b_m - before.b_m);
      const double va = (wanted_.a_m - before.a_m) / cycle_s, vb = (wanted_.b_m - before.b_m) / cycle_s;
      const auto f =
          servo::step(law_, loop_, {(ra + rb) / 2, (va + vb) / 2, 0, ra - rb, va - vb, 0}, raw_.a_m, raw_.b_m);
      simulation::advance(model_, state_, {f.a_n, f.b_n});
      const simulation::Read read = simulation::read_feedback(model_, state_);
      raw_ = {read.a_m - start_.a_m, read.b_m - start_.b_m};
      a_.look(simulation::end_a_m(state_), raw_.a_m, arm_a);
      b_.look(simulation::end_b_m(state_), raw_.b_m, arm_b);
    }
  }

  structured_text::Text text_;
  structured_text::Running program_;
  simulation::GantryModel model_;
  simulation::GantryState state_;
  servo::LoopLaw law_;
  servo::LoopState loop_;
  simulation::Read start_, raw_, wanted_;
  Latch a_, b_;
};

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

TEST_CASE("every kind of reference gives a text that reads; what is not promised gives none, with why") {
  using homing::Reference;
  for (const Reference reference :
       {Reference::single_mark, Reference::periodic, Reference::distance_coded, Reference::absolute,
        Reference::switch_only, Reference::switch_and_mark, Reference::hard_stop})
    for (const bool own : {false, true}) {
      homing::SearchRecipe r = recipe(problem(), homing::plan_search(problem()));
      r.reference = reference;
      r.controller = own ? homing::Controller::each_its_own : homing::Controller::one_command;
      CAPTURE(static_cast<int>(reference));
      const auto made = exporting::search_text(r, {}, cycle_s);
      REQUIRE(made.lacking == "");
      structured_text::Text text(made.text);
      structured_text::Running program(text, "GantrySearch");
      program.at("BothReady") = program.at("Start") = 1;
      program.at("MarkA") = program.at("MarkB") = reference == Reference::absolute;
      program.at("LatchB") = 2e-3;
      for (int i = 0; i < 100; ++i) program.run(1);
      if (reference == Reference::absolute)
        CHECK(program.at("State") >= 50);
      else
        CHECK(program.at("PlaceA") > 1e-4);
    }
  homing::SearchRecipe r;
  r.reason = "where the marks lie is not known";
  CHECK(exporting::search_text(r, {}, cycle_s).text.empty());
  CHECK(exporting::search_text(r, {}, cycle_s).lacking.find("where the marks lie") != std::string::npos);
  r.known = true, r.reason = "", r.words = "A's mark may lie behind the start";
  CHECK(exporting::search_text(r, {}, cycle_s).text.empty());
}
