#pragma once
// One fault and its reaction played by the second simulator, on the machine whose numbers a throw-away run of the
// field survey used.
#include "protection/search.h"
#include "second_simulator.h"

namespace evenbeam::protection::test {

constexpr double kSpeed = 1.5, kAcceleration = 10, kJerk = 1000, kDistance = 0.6, kPeak = 2500;
constexpr double kLag = 1.2e-3, kStop = 10, kBrake = 800, kClose = 0.03, kLate = 0.02, kJam = 1500,
                 kCarriageLoad = 15;
constexpr double kLateFault = 0.2, kSensedLate = 0.01, kStep = 1e-3, kShorted = 400, kThrown = 10, kThrownSpeed = 1.5,
                 kBuffer = 0.01, kFirst_y = -0.7, kLast_y = 0.7;

inline dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 120 * 4 / 12.0 + 40, p.carriage_mass_kg = 60;
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e3;
  p.a.coulomb_n = 40, p.b.coulomb_n = 70;
  p.delay_s = kLag - 1.25e-4;
  return p;
}
inline machine::Settings settings() {
  machine::Settings s;
  s.period_s = 2.5e-4, s.mass_ff_kg = 220, s.coulomb_ff_a_n = 40, s.coulomb_ff_b_n = 70;
  s.peak_force_a_n = s.peak_force_b_n = kPeak;
  s.mean = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 27000, .velocity_integral_s = 0.05};
  s.skew = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 4000, .velocity_integral_s = 0.05};
  return s;
}
inline second::Machine twin() {
  second::Machine m;
  m.lag = kLag, m.mass_ff = 220;
  m.a = {.coulomb = 40, .peak = kPeak, .coulomb_ff = 40};
  m.b = {.coulomb = 70, .peak = kPeak, .coulomb_ff = 70};
  m.mean = {30, 27000, 20}, m.skew = {30, 4000, 20};
  return m;
}

// Rest to rest with full ramps: seven phases by hand.
inline second::Reference reference(double t) {
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

inline bool gone(FaultKind f) {
  return f == FaultKind::power_loss || f == FaultKind::brake_late || f == FaultKind::brake_fails;
}
inline bool both_well(FaultKind f) {
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
inline double peak(const second::Simulator& sim, const second::State& z, double start, const Case& c, bool at_a,
                   bool way) {
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

}  // namespace evenbeam::protection::test
