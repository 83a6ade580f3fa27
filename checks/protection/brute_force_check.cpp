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
constexpr double kLateFault = 0.2, kSensedLate = 0.01, kStep = 1e-3, kShorted = 400, kThrown = 10, kThrownSpeed = 1.5,
                 kBuffer = 0.01, kFirst_y = -0.7, kLast_y = 0.7;

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

bool gone(FaultKind f) {
  return f == FaultKind::power_loss || f == FaultKind::brake_late || f == FaultKind::brake_fails;
}
bool both_well(FaultKind f) {
  return f == FaultKind::jam || f == FaultKind::brake_drags || f == FaultKind::command_step ||
         f == FaultKind::carriage_thrown;
}

// What happens at its instant and later, by the second simulator.
struct Play {
  second::Simulator sim;
  second::State z;
  second::Status s;
  const Case& c;
  bool at_a = true,
       way = true;  // `way`: which brake is late, which way a feedback slips, a command steps, a carriage runs
  double brake_a = 1e9, brake_b = 1e9, stop_from = 1e9, off_at = 1e9, speed = 0, end = 0;
  double carriage_v = 0;
  bool thrown = false, hit = false;

  char& mode() { return at_a ? s.mode_a : s.mode_b; }
  void let_go() { s.mode_a = s.mode_b = 'h', s.held_a = s.held_b = 0; }
  void close_brakes(double t) {
    const double late = c.fault == FaultKind::brake_late ? kLateFault : kLate;
    brake_a = t + kClose + (way ? late : 0), brake_b = t + kClose + (way ? 0 : late);
    if (c.fault == FaultKind::brake_fails) (way ? brake_a : brake_b) = 1e9;
  }
  void begin(double t) {
    double a = 0, b = 0;
    sim.law(z, s, reference(t), a, b);
    double& held = at_a ? s.held_a : s.held_b;
    const double sign = way ? 1 : -1;
    switch (c.fault) {
      case FaultKind::side_off:
      case FaultKind::side_off_unseen:
        mode() = 'h';
        break;
      case FaultKind::output_held:
        mode() = 'h', held = second::clip(at_a ? a : b, kPeak);
        break;
      case FaultKind::output_full_with:
        mode() = 'h', held = kPeak;
        break;
      case FaultKind::output_full_against:
        mode() = 'h', held = -kPeak;
        break;
      case FaultKind::feedback_frozen:
        (at_a ? s.read_a : s.read_b) = 0;
        break;
      case FaultKind::feedback_reversed:
        (at_a ? s.read_a : s.read_b) = -1;
        break;
      case FaultKind::feedback_slip: {
        const double jump = sign * 0.98 * std::min({c.skew_trip, c.following_trip, 1e-3});
        z.em -= jump / 2, z.es -= at_a ? jump : -jump;
        break;
      }
      case FaultKind::jam:
        (at_a ? s.extra_a : s.extra_b) = kJam;
        break;
      case FaultKind::brake_drags:
        (at_a ? s.extra_a : s.extra_b) = kBrake;
        break;
      case FaultKind::command_step:
        z.em += sign * kStep;
        break;
      case FaultKind::carriage_thrown:
        thrown = true;
        break;
      default:
        let_go(), close_brakes(t);
    }
  }
  void react(double t) {
    end = t + 0.15;
    if (gone(c.fault) || protection::stop_category(c.reaction) == 0) {
      let_go();
      if (c.reaction == Reaction::off_brakes && !gone(c.fault)) close_brakes(t);
      if (c.reaction == Reaction::off_brakes || gone(c.fault)) end += 0.1;
      if (c.reaction != Reaction::dynamic_braking) return;
      if (!at_a || both_well(c.fault)) s.short_a = kShorted;
      if (at_a || both_well(c.fault)) s.short_b = kShorted;
      return;
    }
    if (!both_well(c.fault)) mode() = 'h', (at_a ? s.held_a : s.held_b) = 0;
    if (c.reaction == Reaction::follow && !both_well(c.fault)) (at_a ? s.mode_b : s.mode_a) = 'f';
    speed = reference(t).v, stop_from = t;
    if (c.reaction != Reaction::hold) off_at = t + speed / kStop + 0.05;
    end = t + speed / kStop + 0.15;
  }
  // Gains kThrown up to kThrownSpeed, then is stopped over kBuffer at the end of its travel.
  void carriage() {
    const double to = way ? kFirst_y : kLast_y, sign = way ? -1 : 1;
    double gain = std::abs(carriage_v) < kThrownSpeed ? sign * kThrown : 0;
    hit = hit || (to - sim.y) * sign <= kBuffer;
    if (hit) gain = -sign * kThrownSpeed * kThrownSpeed / (2 * kBuffer);
    carriage_v += gain * sim.dt;
    if (hit && carriage_v * sign < 0) carriage_v = 0, thrown = false;
    sim.place_carriage(std::clamp(sim.y + carriage_v * sim.dt, kFirst_y, kLast_y));
  }
  second::Reference due(double t) {
    if (t >= brake_a) s.extra_a += kBrake, brake_a = 1e9;
    if (t >= brake_b) s.extra_b += kBrake, brake_b = 1e9;
    if (t >= off_at) let_go();
    if (thrown) carriage();
    const double v = speed - kStop * (t - stop_from);
    if (stop_from < 1e9) return v > 0 ? second::Reference{v, -kStop} : second::Reference{};
    return reference(t);
  }
};

// One fault by the second simulator, from the ordinary state at `start`.
double peak(const second::Simulator& sim, const second::State& z, double start, const Case& c, bool at_a, bool way) {
  Play p{.sim = sim, .z = z, .s = {}, .c = c, .at_a = at_a, .way = way};
  p.end = std::max(start, kMoveEnds) + 0.25;
  p.begin(start);
  const double latency = c.latency + (c.fault == FaultKind::side_off_unseen ? kSensedLate : 0);
  bool seen = c.fault == FaultKind::side_off || gone(c.fault), reacted = false;
  double react_at = seen ? start + latency : 1e9, worst = std::abs(p.z.theta) * sim.m.span;
  for (double t = start; t < p.end; t += sim.dt) {
    if (!seen && (std::abs(p.z.es) >= c.skew_trip || std::abs(p.z.em) + std::abs(p.z.es) / 2 >= c.following_trip))
      seen = true, react_at = t + latency;
    if (!reacted && t >= react_at) reacted = true, p.react(t);
    p.sim.step(p.z, p.s, p.due(t));
    worst = std::max(worst, std::abs(p.z.theta) * sim.m.span);
  }
  return worst;
}

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
