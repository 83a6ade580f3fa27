#include "protection/further_trips.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"
#include "protection/stepper.h"

using namespace evenbeam;
using namespace evenbeam::protection;

namespace {

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 80, p.carriage_mass_kg = 60;
  p.yaw_stiffness_n_m_per_rad = 1e6, p.yaw_damping_n_m_s_per_rad = 3e3;
  p.a.coulomb_n = 40, p.b.coulomb_n = 70, p.delay_s = 5e-4;
  return p;
}
// Share one half and no friction feed-forward: the skew grows with the acceleration.
machine::Settings settings() {
  machine::Settings s;
  s.period_s = 2.5e-4, s.mass_ff_kg = 220;
  s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.mean = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 27000, .velocity_integral_s = 0.05};
  s.skew = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 4000, .velocity_integral_s = 0.05};
  return s;
}
OrdinaryMove move_at(double y_m, trajectory::MoveLimits limits) {
  const Place place{y_m, 0};
  return ordinary_move(event_model(plant(), place, settings()), place, trajectory::plan_move(0, 1.2, limits));
}

}  // namespace

TEST_CASE("the growing level lies over every look at ordinary moves and under the largest of them in the mean") {
  const OrdinaryMove hard = move_at(0.8, {1, 5, 100}), soft = move_at(-0.8, {0.3, 1, 20});
  const OrdinaryEnvelope all = envelope_of({&hard, &soft}, 0);
  CHECK(all.skew.at_rest_m < 0.9 * all.peak_skew_m);
  double over = 0, mean = 0, largest = 0;
  int looks = 0;
  for (const OrdinaryMove* m : {&hard, &soft})
    for (double t = 0; t < m->pieces.back().from_s; t += 1e-3, ++looks) {
      const OrdinaryPiece piece = state_at(*m, t);
      const double skew_m = std::abs(piece.state[skew_error]);
      const double level = level_m(all.skew, piece.state[v_ref], piece.state[a_ref]);
      over = std::max(over, skew_m / level), mean += level, largest = std::max(largest, skew_m);
    }
  // Between the looks that it was made from (four a piece) at most 2 % more.
  CHECK(over < 1.02);
  CHECK(over > 0.9);  // and it touches
  CHECK(mean / looks < 0.9 * largest);
}

TEST_CASE("a skew in proportion to the acceleration is found as that slope, by hand") {
  // No friction, a carriage off centre, share one half: without loops on the skew and with a stiff bridge the skew is
  // the moment about the middle over the stiffness, s = L m_c y a / K in the steady part of a long ramp.
  dynamics::Plant p = plant();
  p.a.coulomb_n = p.b.coulomb_n = 0, p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e4;
  machine::Settings s = settings();
  s.skew = {.position_gain_per_s = 0, .velocity_gain_n_s_per_m = 1e-3, .velocity_integral_s = 0};
  const Place place{0.5, 0};
  const OrdinaryMove ramp = ordinary_move(event_model(p, place, s), place, trajectory::plan_move(0, 2, {1, 1, 1}));
  const OrdinaryEnvelope all = envelope_of({&ramp}, 0);
  const double slope = 2.0 * 60 * 0.5 / 4e6;
  CHECK(level_m(all.skew, 0.5, 1) == base::test::near(slope).epsilon(0.05));
  CHECK(all.skew.per_acceleration_s2 == base::test::near(slope).epsilon(0.1));
}

TEST_CASE("levels as stated: speed, force, and none where moves ask for nearly all") {
  OrdinaryEnvelope ordinary{.demand = {1, 1.02, 1000, 2200}, .peak_skew_m = 1e-4, .skew = {2e-5, 1e-5, 1e-5}};
  Nuisance nuisance{.part = 0.5, .skew_m = 2.2e-4};
  EventModel model = event_model(plant(), {0, 0}, settings());
  const FurtherTrips trips = further_trips(ordinary, nuisance, {0, 0.05}, 4.4e-4, model, {1e-6, 2e-4});
  CHECK(trips.speed_m_per_s == base::test::near(1 + 0.02 * (1 + 3.72 * 0.5) + 0.005));
  REQUIRE(trips.force_a_n);
  CHECK(*trips.force_a_n == base::test::near(1372));
  CHECK(!trips.force_b_n);
  // Scaled from the largest look to the nuisance level less its counts, and by 2, the constant trip over that level.
  CHECK(trips.skew.per_speed_s == base::test::near(1e-5 * 2 * 2.17));
  CHECK(trips.skew.at_rest_m == base::test::near(2e-5 * 2 * 2.17 + 6e-6));
}

TEST_CASE("either end's speed counts: carriages at opposite ends ask for the same") {
  dynamics::Plant mirrored = plant();
  std::swap(mirrored.a, mirrored.b);
  const auto move = trajectory::plan_move(0, 1.2, {1, 5, 100});
  const OrdinaryMove one = move_at(0.8, {1, 5, 100}),
                     other = ordinary_move(event_model(mirrored, {-0.8, 0}, settings()), {-0.8, 0}, move);
  double either = 0;
  for (double t = 0; t < one.pieces.back().from_s; t += 2e-4) {
    const OrdinaryPiece piece = state_at(one, t);
    either = std::max({either, std::abs(piece.state[v_a]), std::abs(piece.state[v_b])});
  }
  CHECK(demand_of({&one}).speed_m_per_s == base::test::near(either).epsilon(1e-4));
  CHECK(demand_of({&other}).speed_m_per_s == base::test::near(either).epsilon(1e-4));
}

TEST_CASE("each side's force is held against its own trip, and either one sees") {
  FurtherTrips trips{.most_skew_m = 1};
  trips.speed_m_per_s = 9, trips.force_a_n = 1000, trips.force_b_n = 2000, trips.skew.at_rest_m = 1;
  const auto seen_with = [&](double command_a_n, double command_b_n) {
    FaultOutcome run;
    for (int i = 0; i < 5; ++i) run.trace.push_back({.time_s = 1 + 0.01 * i});
    run.trace[3].command_a_n = command_a_n, run.trace[3].command_b_n = command_b_n;
    return first_seen(trips, run, 1).force_s;
  };
  CHECK_FALSE(seen_with(900, 1900));
  CHECK_FALSE(seen_with(-900, -1900));
  REQUIRE(seen_with(-1100, 0));
  CHECK(*seen_with(-1100, 0) == base::test::near(0.03));
  REQUIRE(seen_with(0, 2100));
  CHECK(*seen_with(0, 2100) == base::test::near(0.03));
}

TEST_CASE("the growing trip sees no fault later than the constant one") {
  const OrdinaryMove ordinary = move_at(0.8, {1, 5, 100});
  const OrdinaryEnvelope all = envelope_of({&ordinary}, 0);
  const Nuisance nuisance{.part = 0.2, .skew_m = 1.8 * all.peak_skew_m};
  const double trip_m = 2 * nuisance.skew_m;
  const FurtherTrips trips = further_trips(all, nuisance, {}, trip_m, ordinary.model, {0, 2.5e-4});
  math::Random random(77);
  int seen = 0, sooner = 0;
  for (int i = 0; i < 60; ++i) {
    Scenario s{.fault = i % 2 == 0 ? FaultKind::side_off_unseen : FaultKind::output_held,
               .fault_s = random.uniform(0, ordinary.move.duration_s),
               .latency_s = 0.02};
    s.trip.skew_m = trip_m, s.trace = true;
    const FaultOutcome run = run_fault(ordinary, s);
    if (run.seen_by != SeenBy::skew_trip) continue;
    ++seen;
    const FirstSeen first = first_seen(trips, run, s.fault_s);
    INFO("seed 77, case " << i << ", fault at " << s.fault_s);
    REQUIRE(first.growing_s);
    CHECK(*first.growing_s <= run.seen_s - s.fault_s + 1e-9);
    sooner += *first.growing_s < run.seen_s - s.fault_s - 1e-3;
  }
  CHECK(seen > 20);
  CHECK(sooner > 0);
}
