// The search over faults against a dense grid run by the second simulator (second_simulator.h, written for this
// check): the worst found is never more than 1 % below the worst of the grid. Machine: the one whose numbers a
// throw-away run of the field survey used (bridge 120 kg, ends 20 kg, carriage 60 kg, span 2 m, 4e6 N*m/rad, Coulomb
// 40 and 70 N, 2.5 kN).
#include <doctest/doctest.h>
#include <fmt/format.h>

#include "played_fault.h"
#include "protection/bound.h"
#include "protection/search.h"

using namespace evenbeam;
using protection::FaultKind;
using protection::Reaction;
using namespace protection::test;

namespace {

// Whether the second flag of `peak` makes a difference, and whether the side does.
bool has_ways(const Case& c) {
  return gone(c.fault) || c.reaction == Reaction::off_brakes || c.fault == FaultKind::feedback_slip ||
         c.fault == FaultKind::command_step || c.fault == FaultKind::carriage_thrown;
}
bool has_sides(const Case& c) {
  return !gone(c.fault) && c.fault != FaultKind::command_step && c.fault != FaultKind::carriage_thrown;
}

double brute_force(const std::vector<protection::Place>& places, const Case& c, double grid, double step, double& at,
                   double& y) {
  double worst = 0;
  for (const auto& place : places) {
    const second::Simulator sim(twin(), place.carriage_y_m, place.payload_kg, step);
    second::State z;
    double next = 0;
    for (double t = 0; t <= kMoveEnds; t += sim.dt) {
      if (t >= next) {
        next += grid;
        for (bool at_a : {true, false})
          for (bool late_a : {true, false}) {
            if ((!late_a && !has_ways(c)) || (!at_a && !has_sides(c))) continue;
            const double p = peak(sim, z, t, c, at_a, late_a);
            if (p > worst) worst = p, at = t, y = place.carriage_y_m;
          }
      }
      sim.step(z, second::Status{}, reference(t));
    }
  }
  return worst;
}

protection::SearchOptions options(const Case& c) {
  protection::SearchOptions o{.latency_s = c.latency, .trip = {c.skew_trip, c.following_trip}};
  o.sizes.jam_n = kJam, o.sizes.brake_a_n = o.sizes.brake_b_n = kBrake, o.sizes.brakes_known = true;
  o.sizes.brake_close_a_s = o.sizes.brake_close_b_s = kClose, o.sizes.brake_late_s = kLate,
  o.sizes.stop_m_per_s2 = kStop;
  o.sizes.brake_fault_s = kLateFault, o.sizes.sensed_late_s = kSensedLate, o.sizes.step_m = kStep;
  o.sizes.shorted_n_s_per_m = kShorted;
  o.sizes.carriage_m_per_s2 = kThrown, o.sizes.carriage_m_per_s = kThrownSpeed, o.sizes.carriage_buffer_m = kBuffer;
  o.sizes.carriage_min_y_m = kFirst_y, o.sizes.carriage_max_y_m = kLast_y;
  return o;
}
protection::SearchRange range(const std::vector<protection::Place>& fine) {
  protection::SearchRange out;
  const auto move = trajectory::plan_move(0, kDistance, {kSpeed, kAcceleration, kJerk});
  for (size_t i = 0; i < fine.size(); ++i) {
    out.fine.push_back(
        protection::ordinary_move(protection::event_model(plant(), fine[i], settings()), fine[i], move));
    if (i % 2 == 0) out.coarse.push_back(out.fine.back());
  }
  return out;
}

// Steps of 0.1 ms cost the second simulator up to 1 % against 20 us.
void compare(const std::vector<double>& ys, double grid, double step, const std::vector<Case>& cases) {
  std::vector<protection::Place> places;
  for (double y : ys) places.push_back({y, kCarriageLoad * (y < 0)});
  const protection::SearchRange searched = range(places);
  for (const Case& c : cases) {
    double at = 0, y = 0;
    const double dense = brute_force(places, c, grid, step, at, y);
    const auto found = protection::worst_case(searched, c.fault, c.reaction, options(c));
    MESSAGE(fmt::format(
        "{}, {}: dense {:.4f} mm at {:.3f} s, y {:.2f} m; search {:.4f} mm at {:.4f} s, y {:.2f} m "
        "({:+.2f} %), {} runs",
        protection::to_text(c.fault), protection::key_of(c.reaction), 1e3 * dense, at, y, 1e3 * found.peak_skew_m,
        found.scenario.fault_s, found.place->place.carriage_y_m, 100 * (found.peak_skew_m / dense - 1), found.runs));
    CHECK(found.finished);
    CHECK(found.peak_skew_m > 0.99 * dense);
    CHECK(found.peak_skew_m < 1.05 * dense);  // the grid may miss the top by its own width
    const auto bound = protection::bound_between({found.place}, found, options(c), 0.02, 600);
    if (bound.bounded) CHECK(bound.peak_skew_m > 0.99 * dense);
    if (bound.bounded) MESSAGE(fmt::format("bound {:.4f} mm after {} runs", 1e3 * bound.peak_skew_m, bound.runs));
  }
}

}  // namespace

TEST_CASE("the search is never more than 1 % below a dense grid of the second simulator") {
  compare({-0.7, 0, 0.7}, 8e-3, 1e-4,
          {{FaultKind::side_off, Reaction::off},
           {FaultKind::side_off, Reaction::controlled_stop},
           {FaultKind::side_off, Reaction::follow},
           {FaultKind::output_held, Reaction::off},
           {FaultKind::output_full_against, Reaction::off},
           {FaultKind::feedback_frozen, Reaction::off},
           {FaultKind::jam, Reaction::off},
           {FaultKind::power_loss, Reaction::off}});
}

// Half a minute: protection_check --no-skip --test-case="*at length*"
TEST_CASE("the same at length: every 4 ms, 50 us, five places" * doctest::skip()) {
  compare({-0.7, -0.35, 0, 0.35, 0.7}, 4e-3, 5e-5,
          {{FaultKind::side_off, Reaction::off},
           {FaultKind::side_off, Reaction::controlled_stop},
           {FaultKind::side_off, Reaction::follow},
           {FaultKind::side_off, Reaction::off_brakes},
           {FaultKind::output_held, Reaction::off},
           {FaultKind::output_full_with, Reaction::off},
           {FaultKind::output_full_against, Reaction::off},
           {FaultKind::feedback_frozen, Reaction::off},
           {FaultKind::jam, Reaction::off},
           {FaultKind::power_loss, Reaction::off},
           {FaultKind::power_loss, Reaction::off_brakes}});
}

// Some minutes: protection_check --no-skip --test-case="*every pair*"
TEST_CASE("every pair of fault and reaction: every 8 ms, three places" * doctest::skip()) {
  std::vector<Case> cases;
  for (FaultKind fault : protection::all_faults())
    for (Reaction reaction : protection::all_reactions())
      if (protection::same_as(fault, reaction) == reaction) cases.push_back({fault, reaction});
  MESSAGE(cases.size() << " pairs that differ");
  compare({-0.7, 0, 0.7}, 8e-3, 1e-4, cases);
}

// The search alone, on machines of other make: against 400 instants of the program's own runs.
// Two minutes: protection_check --no-skip --test-case="*other machines*"
TEST_CASE("the search on other machines, every pair" * doctest::skip()) {
  struct Other {
    double stiffness, damping, speed, acceleration, jerk, way, skew_gain, latency;
  };
  for (const Other& m : {Other{6e5, 6e2, 1, 5, 100, 1.2, 3000, 0.016}, Other{2e7, 5e3, 0.8, 3, 30, 0.5, 9000, 0.005},
                         Other{2e6, 9e2, 2, 6, 60, 2.4, 6000, 0.02}, Other{1e6, 2e3, 0.5, 8, 400, 0.3, 2000, 0.01}}) {
    dynamics::Plant p = plant();
    p.yaw_stiffness_n_m_per_rad = m.stiffness, p.yaw_damping_n_m_s_per_rad = m.damping;
    machine::Settings s = settings();
    s.skew.velocity_gain_n_s_per_m = m.skew_gain;
    protection::SearchRange searched;
    const auto move = trajectory::plan_move(0, m.way, {m.speed, m.acceleration, m.jerk});
    for (double y : {-0.7, 0.0, 0.7}) {
      const protection::Place place{y, kCarriageLoad * (y < 0)};
      searched.coarse.push_back(protection::ordinary_move(protection::event_model(p, place, s), place, move));
      REQUIRE(searched.coarse.back().finished);
    }
    searched.fine = searched.coarse;
    double skew_trip = 0, following_trip = 0;  // above ordinary motion, as trips must be
    for (const auto& place : searched.coarse) {
      skew_trip = std::max(skew_trip, 1.5 * place.peak_skew_m);
      following_trip = std::max(following_trip, 1.5 * place.peak_following_m);
    }
    int pairs = 0;
    double least = 1;
    std::string by;
    for (FaultKind fault : protection::all_faults())
      for (Reaction reaction : protection::all_reactions()) {
        if (protection::same_as(fault, reaction) != reaction) continue;
        const Case c{fault, reaction, m.latency, skew_trip, following_trip};
        double dense = 0;
        for (const auto& place : searched.fine)
          for (protection::Scenario way : protection::variants(fault, reaction, options(c)))
            for (int i = 0; i <= 400; ++i) {
              way.fault_s = move.duration_s * i / 400;
              dense = std::max(dense, protection::run_fault(place, way).peak_skew_m);
            }
        const double part = protection::worst_case(searched, fault, reaction, options(c)).peak_skew_m / dense;
        CHECK_MESSAGE(part > 0.99, protection::to_text(fault), ", ", protection::key_of(reaction), ": ", part);
        ++pairs;
        if (part < least) least = part, by = protection::to_text(fault) + ", " + protection::key_of(reaction);
      }
    MESSAGE(fmt::format("{:.0e} N*m/rad, {} m/s: {} pairs, farthest below {:+.2f} % ({})", m.stiffness, m.speed,
                        pairs, 100 * (least - 1), by));
  }
}

TEST_CASE("one side off: the worst instant lies inside acceleration, and the usual test is far too kind") {
  std::vector<protection::Place> places;
  for (double y : {-0.7, -0.35, 0.0, 0.35, 0.7}) places.push_back({y, 0});
  const protection::SearchRange searched = range(places);
  const Case c{FaultKind::side_off, Reaction::off};
  const auto found = protection::worst_case(searched, c.fault, c.reaction, options(c));
  const double a = trajectory::at(found.place->move, found.scenario.fault_s).acceleration_m_per_s2;
  CHECK(std::abs(a) > 1);  // not cruise
  protection::Scenario usual = found.scenario;
  usual.fault_s = kMoveEnds / 2;
  double cruise = 0;
  for (auto side : {protection::FaultySide::a, protection::FaultySide::b}) {
    usual.side = side;
    cruise = std::max(cruise, protection::run_fault(searched.fine[2], usual).peak_skew_m);
  }
  MESSAGE(
      fmt::format("one side off: worst {:.3f} mm at {:.4f} s (a {:.1f}), cruise at mid-span {:.3f} mm: {:.1f} times",
                  1e3 * found.peak_skew_m, found.scenario.fault_s, a, 1e3 * cruise, found.peak_skew_m / cruise));
  CHECK(found.peak_skew_m > 5 * cruise);
  const auto stop = protection::worst_case(searched, c.fault, Reaction::controlled_stop, options(c));
  MESSAGE(fmt::format("controlled stop of the healthy side: {:.3f} mm", 1e3 * stop.peak_skew_m));
  CHECK(stop.peak_skew_m > 1.5 * found.peak_skew_m);  // the healthy side braking alone is worse than cutting both
}
