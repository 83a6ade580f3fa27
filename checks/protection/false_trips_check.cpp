// How often an ordinary motion passes the nuisance edge (the trips proposed lie above it): plants drawn anew from the
// fit's uncertainty, places and payloads at random, moves, jogs, searches and straightenings in turn. The plants that
// the edge was computed with have another seed; the same for the further trips (speed, force, growing skew) as
// proposed. Aim: at most 1 in 10,000. Machine made up.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <random>

#include "protection/further_trips.h"
#include "protection/trip_range.h"

using namespace evenbeam;
using namespace evenbeam::protection;

namespace {

constexpr double kSpeed = 1, kAcceleration = 5, kJerk = 100, kStraightening_m = 2e-4;

dynamics::Plant fitted() {
  dynamics::Plant p;
  p.span_m = 2.2, p.fixed_mass_kg = 520, p.fixed_inertia_kg_m2 = 410, p.carriage_mass_kg = 62;
  p.yaw_stiffness_n_m_per_rad = 2.3e6, p.yaw_damping_n_m_s_per_rad = 900;
  p.a.coulomb_n = 75, p.b.coulomb_n = 58, p.a.viscous_n_s_per_m = 90, p.b.viscous_n_s_per_m = 70;
  p.delay_s = 2e-4, p.current_lag_s = 4e-4;
  return p;
}
// Uncertainties of the size that fits of the generator's machines state.
dynamics::Plant drawn(std::mt19937_64& random) {
  std::normal_distribution<double> normal;
  dynamics::Plant p = fitted();
  p.fixed_moment_kg_m += 2 * normal(random);
  p.yaw_stiffness_n_m_per_rad *= 1 + 0.02 * normal(random);
  p.a.coulomb_n *= 1 + 0.05 * normal(random), p.b.coulomb_n *= 1 + 0.05 * normal(random);
  p.a.viscous_n_s_per_m *= 1 + 0.1 * normal(random), p.b.viscous_n_s_per_m *= 1 + 0.1 * normal(random);
  p.delay_s *= std::max(0.2, 1 + 0.1 * normal(random));
  return p;
}
machine::Settings settings() {
  machine::Settings s;
  s.period_s = 1e-4, s.mass_ff_kg = 580, s.coulomb_ff_a_n = 75, s.coulomb_ff_b_n = 58;
  s.viscous_ff_a_n_s_per_m = 90, s.viscous_ff_b_n_s_per_m = 70;
  s.peak_force_a_n = s.peak_force_b_n = 2600;
  s.mean = {.position_gain_per_s = 45, .velocity_gain_n_s_per_m = 9e4, .velocity_integral_s = 0.03};
  s.skew = {.position_gain_per_s = 60, .velocity_gain_n_s_per_m = 1.8e4, .velocity_integral_s = 0.02};
  return s;
}
machine::Machine machine() {
  machine::Machine m;
  m.span_m = 2.2, m.carriage_min_y_m = -0.85, m.carriage_max_y_m = 0.85, m.payload_max_kg = 25;
  return m;
}

FurtherTrips proposed(const SearchRange& range, const NuisanceInput& input, const Nuisance& edge,
                      double skew_trip_m) {
  std::vector<const OrdinaryMove*> all;
  for (const OrdinaryMove& m : range.fine) all.push_back(&m);
  for (const OrdinaryMove& m : input.slow) all.push_back(&m);
  return further_trips(envelope_of(all, edge.straightening_m), edge, command_spread(range.coarse, input.drawn),
                       skew_trip_m, range.fine.front().model, {0, settings().period_s});
}
// Looked at every 2 ms and at the end of each piece.
bool passes_further(const FurtherTrips& trips, const OrdinaryMove& move) {
  const Demand demand = demand_of({&move});
  if (demand.speed_m_per_s >= trips.speed_m_per_s) return true;
  if (trips.force_a_n && demand.command_a_n >= *trips.force_a_n) return true;
  if (trips.force_b_n && demand.command_b_n >= *trips.force_b_n) return true;
  for (double t = 0; t < move.pieces.back().from_s; t += 2e-3) {
    const State z = state_at(move, t).state;
    if (std::abs(z[skew_error]) >= std::min(trips.most_skew_m, level_m(trips.skew, z[v_ref], z[a_ref]))) return true;
  }
  return false;
}

void count_false_trips(int motions) {
  constexpr std::uint64_t seed = 20;
  const dynamics::Plant plant = fitted();
  TripsInput input{.plant = &plant, .settings = settings(), .allowable_skew_m = 10 * kStraightening_m};
  input.moves = {{"work", 1.2, kSpeed, kAcceleration, kJerk}};
  std::mt19937_64 random(seed);
  for (int i = 0; i < 16; ++i) input.drawn.push_back(drawn(random));
  std::string why_not;
  const SearchRange range = search_range(machine(), input, why_not);
  REQUIRE(why_not.empty());
  const Nuisance edge = nuisance(nuisance_input(machine(), input, range));
  std::uniform_real_distribution<double> part(0, 1);
  const double skew_trip_m = 2 * edge.skew_m;
  const FurtherTrips further = proposed(range, nuisance_input(machine(), input, range), edge, skew_trip_m);
  int trips = 0, other_trips = 0;
  double largest = 0;
  for (int i = 0; i < motions; ++i) {
    const Place place{-0.85 + 1.7 * part(random), 25 * part(random)};
    const EventModel model = event_model(drawn(random), place, settings());
    double skew = 0, following = 0;
    if (i % 4 == 3) {
      skew = straightening_peak_m(model, i % 8 < 4 ? kStraightening_m : -kStraightening_m, kStraightening_m / 0.5);
    } else {
      const double speed = i % 4 == 0 ? kSpeed : i % 4 == 1 ? 0.1 * kSpeed : 0.02;
      const auto move = trajectory::plan_move(0, i % 4 == 0 ? 1.2 : 2 * speed, {speed, kAcceleration, kJerk});
      const OrdinaryMove ordinary = ordinary_move(model, place, move);
      skew = ordinary.peak_skew_m, following = ordinary.peak_following_m;
      other_trips += passes_further(further, ordinary);
    }
    largest = std::max(largest, skew / edge.skew_m);
    trips += skew > edge.skew_m || following > 1.5 * edge.following_m;
  }
  MESSAGE(fmt::format(
      "seed {}: {} false trips in {} motions at the nuisance edge of {:.1f} um (largest peak {:.0f} % of it); 95 % "
      "upper bound 1 in {:.0f}",
      seed, trips, motions, 1e6 * edge.skew_m, 100 * largest, motions / (3.0 + 2 * trips)));
  MESSAGE(fmt::format("further trips: {} of the moves, jogs and searches among them trip", other_trips));
  CHECK(trips <= motions / 10000);
  CHECK(other_trips <= motions / 10000);
}

}  // namespace

TEST_CASE("false trips at the nuisance edge, a short count") { count_false_trips(1200); }

// A minute: protection_check --no-skip --test-case="*30000*"
TEST_CASE("false trips at the nuisance edge, 30000 motions" * doctest::skip()) { count_false_trips(30000); }
