#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"
#include "protection/bound.h"
#include "protection/latency_budget.h"

using namespace evenbeam;
using namespace evenbeam::protection;

namespace {

dynamics::Plant plant(double stiffness = 4e6) {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 80, p.carriage_mass_kg = 60;
  p.yaw_stiffness_n_m_per_rad = stiffness, p.yaw_damping_n_m_s_per_rad = 3e3;
  p.a.coulomb_n = 40, p.b.coulomb_n = 70, p.delay_s = 5e-4;
  return p;
}
machine::Settings settings() {
  machine::Settings s;
  s.period_s = 2.5e-4, s.mass_ff_kg = 220, s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 70;
  s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.mean = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 27000, .velocity_integral_s = 0.05};
  s.skew = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 4000, .velocity_integral_s = 0.05};
  return s;
}
OrdinaryMove move_of(const dynamics::Plant& p, const Place& place, machine::Settings s = settings()) {
  return ordinary_move(event_model(p, place, s), place, trajectory::plan_move(0, 1.2, {1, 5, 100}));
}

}  // namespace

TEST_CASE("one side off at constant speed with stiff guides, by hand") {
  // Carriage at mid-span, cruise: A carries its friction 40 N. A off, both off T = 0 later: the yaw moment is the
  // friction's, (r_B - r_A) L/2 on a bridge that loses both forces; the skew swings about its static value
  //   s = (r_B - r_A)/2 * L^2/K  with the share of the deceleration that the unequal masses ask for (here none),
  // from its standing value in cruise (feed-forward carries each side's friction: no skew). Damped: 1 + exp(-pi
  // zeta/..).
  dynamics::Plant p = plant();
  const Place middle{0, 0};
  const OrdinaryMove ordinary = move_of(p, middle);
  REQUIRE(ordinary.finished);
  Scenario s{.fault = FaultKind::side_off, .fault_s = ordinary.move.duration_s / 2, .latency_s = 0};
  const FaultOutcome out = run_fault(ordinary, s);
  const double still = (70.0 - 40.0) / 2 * 4 / 4e6;
  const double inertia = 80;
  const double damping = 3e3 / (2 * std::sqrt(4e6 * inertia));
  const double swing = std::exp(-M_PI * damping / std::sqrt(1 - damping * damping));
  // The outputs' tails (40 and 70 N for a lag of some 0.6 ms) act as the step does, a little later.
  CHECK(out.peak_skew_m == base::test::near(still * (1 + swing)).epsilon(0.01));
}

TEST_CASE("a jam by hand: one end held, the other swings on the guide spring") {
  // Both off at the instant of the jam, end A stopped by a force without limit: what is left moves about A,
  //   w_BB v_B' = -r_B + k sigma - ..., from v_B = v (1 + w_AB/w_BB) after the impulse that stops A.
  // Energy: w_BB v_B^2/2 = k s^2/2 + r_B s  (no damping)
  dynamics::Plant p = plant();
  p.yaw_damping_n_m_s_per_rad = 0;
  const Place middle{0, 0};
  const OrdinaryMove ordinary = move_of(p, middle);
  const EventModel& m = ordinary.model;
  Scenario s{.fault = FaultKind::power_loss, .fault_s = ordinary.move.duration_s / 2, .latency_s = 0};
  s.sizes.brakes_known = true;
  s.sizes.brake_a_n = 1e7, s.sizes.brake_b_n = 0, s.sizes.brake_close_a_s = 0, s.sizes.brake_late_s = 0;
  const FaultOutcome out = run_fault(ordinary, s);
  const double v = 1 + m.w_ab_kg / m.w_bb_kg, k = m.stiffness_n_per_m, r = 70;
  const double by_hand = (-r + std::sqrt(r * r + k * m.w_bb_kg * v * v)) / k;
  CHECK(out.peak_skew_m == base::test::near(by_hand).epsilon(0.01));
}

TEST_CASE("no energy is made or lost, whatever fails and whatever is done") {
  constexpr std::uint64_t seed = 7;
  math::Random random(seed);
  for (int i = 0; i < 60; ++i) {
    CAPTURE(seed);
    CAPTURE(i);
    const Place place{1.4 * (random.uniform() - 0.5), 20 * random.uniform()};
    const OrdinaryMove ordinary = move_of(plant(i % 2 ? 4e6 : 4e5), place);
    const FaultKind fault = all_faults()[static_cast<size_t>(i) % all_faults().size()];
    if (fault == FaultKind::carriage_thrown) continue;  // the carriage's own drive gives and takes
    Scenario s{.fault = fault,
               .side = i % 3 ? FaultySide::a : FaultySide::b,
               .reaction = all_reactions()[static_cast<size_t>(i) % all_reactions().size()],
               .fault_s = random.uniform() * ordinary.move.duration_s,
               .latency_s = 0.01 * random.uniform(),
               .trip = {3e-4, 1.5e-3}};
    s.sizes.jam_n = 1500, s.sizes.brake_a_n = s.sizes.brake_b_n = 800, s.sizes.brakes_known = true;
    s.sizes.brake_close_a_s = s.sizes.brake_close_b_s = 0.03, s.sizes.shorted_n_s_per_m = 300;
    s.trace = s.to_standstill = true;
    const FaultOutcome out = run_fault(ordinary, s);
    CHECK(out.finished);
    const EventModel& m = ordinary.model;
    double given = 0, largest = energy_j(m, out.trace.front().state);
    for (size_t k = 0; k + 1 < out.trace.size(); ++k) {
      const double h = out.trace[k + 1].time_s - out.trace[k].time_s;
      const auto net = [](const TracePoint& t) { return t.output_w - t.friction_w; };
      given += h * (net(out.trace[k]) + net(out.trace[k + 1])) / 2;
      largest = std::max(largest, energy_j(m, out.trace[k].state));
    }
    const double gained = energy_j(m, out.trace.back().state) - energy_j(m, out.trace.front().state);
    CHECK(std::abs(gained - given) < 1e-3 * (largest + 1));  // what the trapezia of the trace leave
  }
}

TEST_CASE("a run that ends early has seen its peak; what is only asked is answered rightly") {
  constexpr std::uint64_t seed = 11;
  math::Random random(seed);
  for (int i = 0; i < 120; ++i) {
    CAPTURE(seed);
    CAPTURE(i);
    dynamics::Plant p = plant(i % 2 ? 4e6 : 4e5);
    p.a.viscous_n_s_per_m = 300 * random.uniform(), p.b.viscous_n_s_per_m = 300 * random.uniform();
    p.yaw_damping_n_m_s_per_rad = 3e3 * random.uniform();
    const OrdinaryMove ordinary = move_of(p, {1.4 * (random.uniform() - 0.5), 20 * random.uniform()});
    Scenario s{.fault = all_faults()[static_cast<size_t>(i) % all_faults().size()],
               .side = i % 3 ? FaultySide::a : FaultySide::b,
               .reaction = i % 4 ? Reaction::off : Reaction::dynamic_braking,
               .fault_s = random.uniform() * ordinary.move.duration_s,
               .latency_s = 0.01 * random.uniform(),
               .trip = {3e-4, 1.5e-3}};
    if (s.fault == FaultKind::carriage_thrown) continue;
    s.sizes.jam_n = 1500, s.sizes.brake_a_n = s.sizes.brake_b_n = 800, s.sizes.brakes_known = i % 5 != 0;
    s.sizes.brake_close_a_s = s.sizes.brake_close_b_s = 0.03, s.sizes.shorted_n_s_per_m = 300;
    const double early = run_fault(ordinary, s).peak_skew_m;
    for (double part : {0.5, 0.99, 1.01, 2.0}) {
      Scenario asked = s;
      asked.asked_m = part * early;
      CHECK((run_fault(ordinary, asked).peak_skew_m > asked.asked_m) == (part < 1));
    }
    s.to_standstill = true;
    CHECK(early == base::test::near(run_fault(ordinary, s).peak_skew_m).epsilon(1e-6));
  }
}

TEST_CASE("what is alike until the reaction, run once, is to the last bit what each run is alone") {
  constexpr std::uint64_t seed = 5;
  math::Random random(seed);
  int parted = 0;
  for (int i = 0; i < 90; ++i) {
    CAPTURE(seed);
    CAPTURE(i);
    // A yaw so slow that its steps are longer than a stop keeps power, one of the usual sort, a stiff one.
    const dynamics::Plant p = plant(i % 3 == 0 ? 1e3 : i % 3 == 1 ? 4e5 : 4e6);
    const OrdinaryMove ordinary = move_of(p, {1.4 * (random.uniform() - 0.5), 20 * random.uniform()});
    if (!ordinary.finished) continue;
    Scenario s{.fault = all_faults()[static_cast<size_t>(i) % all_faults().size()],
               .side = random.uniform() < 0.5 ? FaultySide::a : FaultySide::b,
               .fault_s = random.uniform() * ordinary.move.duration_s,
               .latency_s = 0.02 * random.uniform(),
               .trip = {3e-4, 1.5e-3}};
    s.sizes.jam_n = 1500, s.sizes.brake_a_n = s.sizes.brake_b_n = 800, s.sizes.brakes_known = true;
    s.sizes.brake_close_a_s = s.sizes.brake_close_b_s = 0.03, s.sizes.shorted_n_s_per_m = 300;
    s.sizes.carriage_m_per_s2 = 5, s.sizes.carriage_m_per_s = 1;
    s.sizes.carriage_min_y_m = -0.85, s.sizes.carriage_max_y_m = 0.85;
    s.to_standstill = i % 4 == 0;
    std::vector<Scenario> all;
    for (Reaction reaction : all_reactions()) all.push_back(s), all.back().reaction = reaction;
    const std::vector<FaultOutcome> together = run_alike(ordinary, all);
    REQUIRE(together.size() == all.size());
    for (size_t k = 0; k < all.size(); ++k) {
      CAPTURE(k);
      const FaultOutcome alone = run_fault(ordinary, all[k]);
      CHECK(together[k].peak_skew_m == alone.peak_skew_m);
      CHECK(together[k].peak_at_s == alone.peak_at_s);
      CHECK(together[k].reaction_s == alone.reaction_s);
      CHECK(together[k].stands == alone.stands);
      CHECK(together[k].stands_s == alone.stands_s);
      CHECK(together[k].stop_way_m == alone.stop_way_m);
      CHECK(together[k].seen_by == alone.seen_by);
      parted += together[k].stands_s != together[0].stands_s;
    }
  }
  CHECK(parted > 100);  // not all reactions came to the same
}

TEST_CASE("a machine seen in a mirror does in the mirror what the machine does") {
  dynamics::Plant p = plant(4e5);
  p.a.viscous_n_s_per_m = 60, p.b.viscous_n_s_per_m = 20, p.b.force_scale = 1.1;  // B gives more than asked
  dynamics::Plant mirrored = p;
  std::swap(mirrored.a, mirrored.b);
  machine::Settings s = settings();
  s.peak_force_a_n = 1800, s.coulomb_ff_b_n = 55, s.share = 0.45;
  machine::Settings other = s;
  std::swap(other.peak_force_a_n, other.peak_force_b_n), std::swap(other.coulomb_ff_a_n, other.coulomb_ff_b_n);
  other.share = 1 - s.share;
  const OrdinaryMove one = move_of(p, {0.5, 0}, s), two = move_of(mirrored, {-0.5, 0}, other);
  for (FaultKind fault : all_faults())
    for (Reaction reaction : {Reaction::off, Reaction::off_brakes, Reaction::follow})
      for (const bool way : {true, false}) {
        Scenario here{.fault = fault,
                      .side = FaultySide::b,
                      .reaction = reaction,
                      .fault_s = 0.4 * one.move.duration_s,
                      .latency_s = 0.01,
                      .trip = {3e-4, 1.5e-3},
                      .late_a = way,
                      .to_standstill = true};
        here.sizes.jam_n = 1500, here.sizes.brake_a_n = 700, here.sizes.brake_b_n = 900,
        here.sizes.brakes_known = true;
        here.sizes.brake_close_a_s = 0.02, here.sizes.brake_close_b_s = 0.03;
        here.sizes.carriage_m_per_s2 = 5, here.sizes.carriage_m_per_s = 1;
        here.sizes.carriage_min_y_m = -0.85, here.sizes.carriage_max_y_m = 0.85;
        Scenario there = here;
        there.side = FaultySide::a;
        std::swap(there.sizes.brake_a_n, there.sizes.brake_b_n);
        std::swap(there.sizes.brake_close_a_s, there.sizes.brake_close_b_s);
        // Which way a feedback slips or a command steps is along the rails, which brake is late is not.
        if (fault != FaultKind::feedback_slip && fault != FaultKind::command_step) there.late_a = !way;
        if (reaction == Reaction::off_brakes && there.late_a == way) continue;
        CAPTURE(to_text(fault));
        CAPTURE(to_text(reaction));
        const FaultOutcome left = run_fault(one, here), right = run_fault(two, there);
        CHECK(left.peak_skew_m == base::test::near(right.peak_skew_m).epsilon(1e-6));
        CHECK(left.stands == right.stands);
        CHECK(left.stands_s == base::test::near(right.stands_s).epsilon(1e-5));
        CHECK(left.stop_way_m == base::test::near(right.stop_way_m).epsilon(1e-5));
      }
}

TEST_CASE("a fault looked at under all reactions together gives each the worst it has alone") {
  SearchRange range;
  for (double y : {-0.7, 0.7}) range.coarse.push_back(move_of(plant(), {y, 0}));
  range.fine = range.coarse;
  SearchOptions o{.latency_s = 0.01, .trip = {3e-4, 1.5e-3}};
  o.sizes.brakes_known = true, o.sizes.brake_a_n = o.sizes.brake_b_n = 800, o.sizes.brake_close_a_s = 0.03;
  for (FaultKind fault : {FaultKind::side_off, FaultKind::feedback_slip, FaultKind::power_loss}) {
    std::vector<Pair> pairs;
    for (Reaction reaction : all_reactions()) pairs.push_back({fault, reaction});
    const std::vector<Worst> together = worst_cases(range, pairs, o);
    REQUIRE(together.size() == pairs.size());
    for (size_t i = 0; i < pairs.size(); ++i) {
      CAPTURE(i);
      const Worst alone = worst_case(range, fault, pairs[i].reaction, o);
      CHECK(together[i].peak_skew_m == alone.peak_skew_m);
      CHECK(together[i].scenario.fault_s == alone.scenario.fault_s);
      CHECK(together[i].reaction == pairs[i].reaction);
      const bool told_before = same_as(fault, pairs[i].reaction) != pairs[i].reaction;
      CHECK(together[i].runs == (told_before ? 0 : alone.runs));
    }
  }
}

TEST_CASE("what no reaction sees at once is worse the later it is told; budgets hold at their own latency") {
  SearchRange range;
  for (double y : {-0.7, 0.0, 0.7}) range.coarse.push_back(move_of(plant(), {y, 0}));
  range.fine = range.coarse;
  SearchOptions o{.latency_s = 0.01, .trip = {3e-4, 1.5e-3}, .refine = false};
  const Worst w = worst_case(range, FaultKind::side_off, Reaction::off, o);
  int runs = 0;
  const double limit = 1.5 * w.peak_skew_m;
  const auto budget = latency_budget_s(range, w, o, limit, runs);
  REQUIRE(budget);
  CHECK(*budget > 0.01);
  CHECK(*budget < longest_latency_s);
  Scenario at_budget = w.scenario;
  at_budget.latency_s = *budget;
  CHECK(holds_at_all_instants(*w.place, at_budget, limit, runs));
  CHECK_FALSE(latency_budget_s(range, w, o, 1e-9, runs).has_value());
}

// Golden section leaves 0.618^7 = 3 % of a bracket; near a smooth top that is nearly nothing.
TEST_CASE("at one place the instant found is the top: no instant at all of the move is worse") {
  SearchRange range;
  range.coarse.push_back(move_of(plant(), {0.4, 0}));
  range.fine = range.coarse;
  const SearchOptions o{.latency_s = 0.01, .trip = {3e-4, 1.5e-3}};
  for (const FaultKind fault : {FaultKind::side_off, FaultKind::output_held, FaultKind::feedback_frozen}) {
    const Worst found = worst_case(range, fault, Reaction::off, o);
    REQUIRE(found.peak_skew_m > 0);
    double most = 0;
    for (Scenario s : variants(fault, Reaction::off, o))
      for (s.fault_s = 0; s.fault_s < range.coarse[0].move.duration_s; s.fault_s += 2e-4)
        most = std::max(most, run_fault(range.coarse[0], s).peak_skew_m);
    CAPTURE(static_cast<int>(fault));
    CHECK(found.peak_skew_m > (1 - 5e-5) * most);
  }
}

TEST_CASE("pairs on two threads are the pairs on one; a cancel leaves nothing") {
  SearchRange range;
  range.coarse.push_back(move_of(plant(), {0.4, 0}));
  range.fine = range.coarse;
  const SearchOptions o{.latency_s = 0.01, .trip = {3e-4, 1.5e-3}};
  const std::vector<Pair> pairs{{FaultKind::side_off, Reaction::off},
                                {FaultKind::output_held, Reaction::off},
                                {FaultKind::power_loss, Reaction::follow}};
  const auto one = worst_cases(range, pairs, o), two = worst_cases(range, pairs, o, 2);
  REQUIRE(one.size() == two.size());
  for (size_t i = 0; i < one.size(); ++i) CHECK(one[i].peak_skew_m == two[i].peak_skew_m);
  CHECK(worst_cases(range, pairs, o, 2, [](double) { return false; }).empty());
}

TEST_CASE("a thrown carriage that takes the masses along ends where a machine with the carriage there begins") {
  EventModel moved = event_model(plant(), {-0.3, 12}, settings());
  move_carriage(moved, 0.6);
  const EventModel there = event_model(plant(), {0.6, 12}, settings());
  CHECK(moved.w_aa_kg == base::test::near(there.w_aa_kg).epsilon(1e-12));
  CHECK(moved.w_ab_kg == base::test::near(there.w_ab_kg).epsilon(1e-12));
  CHECK(moved.w_bb_kg == base::test::near(there.w_bb_kg).epsilon(1e-12));
}

TEST_CASE("masses that no body has are told as not finished") {
  dynamics::Plant p = plant();
  p.fixed_moment_kg_m = 200;  // S^2 > M J
  CHECK_FALSE(move_of(p, {0, 0}).finished);
}
