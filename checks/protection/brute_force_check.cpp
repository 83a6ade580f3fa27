// The search over faults against a dense grid run by the second simulator (second_simulator.h, written for this
// check): the worst found is never more than 1 % below the worst of the grid. Machine: the one whose numbers a
// throw-away run of the field survey used (bridge 120 kg, ends 20 kg, carriage 60 kg, span 2 m, 4e6 N*m/rad, Coulomb
// 40 and 70 N, 2.5 kN).
#include <doctest/doctest.h>
#include <fmt/format.h>

#include "protection/bound.h"
#include "protection/search.h"
#include "second_simulator.h"

using namespace evenbeam;
using protection::FaultKind;
using protection::Reaction;

namespace {

constexpr double kSpeed = 1.5, kAcceleration = 10, kJerk = 1000, kDistance = 0.6, kPeak = 2500;
constexpr double kLag = 1.2e-3, kStop = 10, kBrake = 800, kClose = 0.03, kLate = 0.02, kJam = 1500,
                 kCarriageLoad = 15;

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 120 * 4 / 12.0 + 40, p.carriage_mass_kg = 60;
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e3;
  p.a.coulomb_n = 40, p.b.coulomb_n = 70;
  p.delay_s = kLag - 1.25e-4;
  return p;
}
machine::Settings settings() {
  machine::Settings s;
  s.period_s = 2.5e-4, s.mass_ff_kg = 220, s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 70;
  s.peak_force_a_n = s.peak_force_b_n = kPeak;
  s.mean = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 27000, .velocity_integral_s = 0.05};
  s.skew = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 4000, .velocity_integral_s = 0.05};
  return s;
}
second::Machine twin() {
  second::Machine m;
  m.lag = kLag, m.mass_ff = 220;
  m.a = {.coulomb = 40, .peak = kPeak, .coulomb_ff = 40};
  m.b = {.coulomb = 70, .peak = kPeak, .coulomb_ff = 70};
  m.mean = {30, 27000, 20}, m.skew = {30, 4000, 20};
  return m;
}

// Rest to rest with full ramps: seven phases by hand.
second::Reference reference(double t) {
  const double tj = kAcceleration / kJerk, ta = kSpeed / kAcceleration - tj,
               cruise = kDistance / kSpeed - kSpeed / kAcceleration - tj;
  const double jerks[] = {kJerk, 0, -kJerk, 0, -kJerk, 0, kJerk}, spans[] = {tj, ta, tj, cruise, tj, ta, tj};
  second::Reference r;
  for (int i = 0; i < 7 && t > 0; ++i) {
    const double h = std::min(t, spans[i]);
    r.v += h * (r.a + jerks[i] * h / 2);
    r.a += jerks[i] * h;
    t -= spans[i];
    if (i == 6 && t > 0) return {};
  }
  return r;
}
constexpr double kMoveEnds = kDistance / kSpeed + kSpeed / kAcceleration + kAcceleration / kJerk;

struct Case {
  FaultKind fault;
  Reaction reaction;
  double latency = 0.01, skew_trip = 3e-4, following_trip = 1.5e-3;
};

// One fault by the second simulator, from the ordinary state at `start`.
double peak(const second::Simulator& sim, second::State z, double start, const Case& c, bool at_a, bool late_a) {
  second::Status s;
  second::Reference r = reference(start);
  char& mode = at_a ? s.mode_a : s.mode_b;
  double& held = at_a ? s.held_a : s.held_b;
  double a = 0, b = 0;
  sim.law(z, s, r, a, b);
  if (c.fault == FaultKind::side_off) mode = 'h';
  if (c.fault == FaultKind::output_held) mode = 'h', held = second::clip(at_a ? a : b, kPeak);
  if (c.fault == FaultKind::output_full_with) mode = 'h', held = kPeak;
  if (c.fault == FaultKind::output_full_against) mode = 'h', held = -kPeak;
  if (c.fault == FaultKind::feedback_frozen) (at_a ? s.read_a : s.read_b) = 0;
  if (c.fault == FaultKind::jam) (at_a ? s.extra_a : s.extra_b) = kJam;
  if (c.fault == FaultKind::power_loss) s.mode_a = s.mode_b = 'h';
  const bool drive = c.fault != FaultKind::jam && c.fault != FaultKind::power_loss;
  bool seen = c.fault == FaultKind::side_off || c.fault == FaultKind::power_loss, reacted = false;
  double react_at = seen ? start + c.latency : 1e9, stop_from = 1e9, off_at = 1e9,
         end = std::max(start, kMoveEnds) + 0.25;
  double brake_a = 1e9, brake_b = 1e9, speed = 0, worst = std::abs(z.theta) * sim.m.span;
  if (c.fault == FaultKind::power_loss)
    brake_a = start + kClose + (late_a ? kLate : 0), brake_b = start + kClose + (late_a ? 0 : kLate);
  for (double t = start; t < end; t += sim.dt) {
    if (!seen && (std::abs(z.es) >= c.skew_trip || std::abs(z.em) + std::abs(z.es) / 2 >= c.following_trip))
      seen = true, react_at = t + c.latency;
    r = reference(t);
    if (!reacted && t >= react_at) {
      reacted = true;
      speed = r.v;
      if (c.reaction == Reaction::off || c.reaction == Reaction::off_brakes || c.fault == FaultKind::power_loss) {
        s.mode_a = s.mode_b = 'h', s.held_a = s.held_b = 0;
        if (c.reaction == Reaction::off_brakes)
          brake_a = t + kClose + (late_a ? kLate : 0), brake_b = t + kClose + (late_a ? 0 : kLate);
        end = t + 0.15;
      } else {
        if (drive) mode = 'h', held = 0;
        if (c.reaction == Reaction::follow && drive) (at_a ? s.mode_b : s.mode_a) = 'f';
        stop_from = t, off_at = t + speed / kStop + 0.05, end = off_at + 0.1;
      }
    }
    if (reacted && stop_from < 1e9) {
      const double v = speed - kStop * (t - stop_from);
      r = v > 0 ? second::Reference{v, -kStop} : second::Reference{};
      if (t >= off_at) s.mode_a = s.mode_b = 'h', s.held_a = s.held_b = 0;
    }
    if (t >= brake_a) s.extra_a += kBrake, brake_a = 1e9;
    if (t >= brake_b) s.extra_b += kBrake, brake_b = 1e9;
    sim.step(z, s, r);
    worst = std::max(worst, std::abs(z.theta) * sim.m.span);
  }
  return worst;
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
            const bool ways = c.reaction == Reaction::off_brakes || c.fault == FaultKind::power_loss;
            if ((!late_a && !ways) || (!at_a && c.fault == FaultKind::power_loss)) continue;
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
