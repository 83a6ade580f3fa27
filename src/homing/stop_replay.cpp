#include "homing/stop_replay.h"

#include <algorithm>
#include <cmath>

#include "servo/loop_law.h"
#include "simulation/gantry.h"

namespace evenbeam::homing {
namespace {

constexpr double kPeriod_s = 1e-3;     // of what is kept
constexpr double kAtLimit = 0.99;      // part of the limit from which a force counts as at it
constexpr double kAfter_s = 0.2;       // shown after both are found
constexpr double kHardStop_m = 20e-6;  // gives by so much where nothing is said

// One side's reference, along the search.
struct Searcher {
  double start_m = 0, reference_m = 0, stands_at_m = 0, stands_s = 0;
  bool armed = false;
  std::optional<StopRun::Found> found;

  void go(double way_m) {
    if (!found) reference_m = start_m + way_m;
  }
  void look(double time_s, double dt_s, double place_m, bool pressing) {
    armed = armed || place_m - start_m >= kMovedOff_m;
    if (found) return;
    if (!pressing || std::abs(place_m - stands_at_m) > kAtRest_m) stands_at_m = place_m, stands_s = 0;
    stands_s += dt_s;
    if (!armed || stands_s <= kAtRest_s) return;
    found = StopRun::Found{time_s, place_m};
    reference_m = place_m;
  }
};

// Way of a reference from rest.
double way_at(const SearchProblem& p, double time_s) {
  const double ramp_s = p.speed_m_per_s / p.acceleration_m_per_s2;
  return time_s < ramp_s ? p.acceleration_m_per_s2 * time_s * time_s / 2 : p.speed_m_per_s * (time_s - ramp_s / 2);
}

double longest_s(const SearchProblem& p, const SearchPlan& plan) {
  return plan.longest_s + kPressing_m / p.speed_m_per_s + 0.3;
}

struct Ends {
  double a = 0, b = 0;
};
Ends starts(const SearchPlan& plan, const FailingStart& s) {
  const int d = plan.way.direction;
  return {d * (s.mean_m + s.skew_m / 2), d * (s.mean_m - s.skew_m / 2)};
}

// The machine that the promise speaks of, at the upper ends of friction and stiffness.
dynamics::Plant promised_plant(const SearchProblem& p, const VirtualMachine& machine) {
  dynamics::Plant plant = machine.plant;
  plant.stress_free_skew_m = p.free_skew_m;
  const auto rub = [&](dynamics::PlantSide& side, const std::optional<double>& commanded_n) {
    if (commanded_n)
      side.coulomb_n = std::max(0.0, *commanded_n * side.force_scale - side.viscous_n_s_per_m * p.speed_m_per_s);
  };
  rub(plant.a, p.friction_a_n), rub(plant.b, p.friction_b_n);
  if (p.guide_n_per_m)
    plant.yaw_stiffness_n_m_per_rad =
        *p.guide_n_per_m * plant.span_m * plant.span_m * std::min(plant.a.force_scale, plant.b.force_scale);
  return plant;
}

dynamics::Effects stops(const SearchProblem& p, const FailingStart& s, int direction, const dynamics::Plant& plant) {
  dynamics::Effects effects;
  const double give_m = p.stop_give_m > 0 ? p.stop_give_m : kHardStop_m;
  const double stiffness = p.stop_force_n.value_or(100) / give_m, mass_kg = dynamics::total_mass_kg(plant) / 2;
  const auto put = [&](dynamics::SideEffects& side, double at_m) {
    (direction > 0 ? side.stop_high_m : side.stop_low_m) = at_m;
    side.stop_stiffness_n_per_m = stiffness;
    side.stop_damping_n_s_per_m = std::sqrt(stiffness * mass_kg);  // half of critical: a bumper, no spring
  };
  put(effects.a, s.mark_a_m), put(effects.b, s.mark_b_m);
  return effects;
}

// The virtual gantry under the loops of the search, forces limited.
struct Rig {
  machine::Settings loops;
  servo::LoopLaw law;
  servo::LoopState loop = servo::fresh_state();
  simulation::GantryModel model;
  simulation::GantryState state;
};

Rig rig_of(const SearchProblem& p, const FailingStart& start, int direction, const VirtualMachine& machine) {
  Rig rig{.loops = machine.loops};
  if (p.stop_force_n) rig.loops.peak_force_a_n = rig.loops.peak_force_b_n = *p.stop_force_n;
  rig.law = servo::prepare(rig.loops);
  const dynamics::Plant plant = promised_plant(p, machine);
  rig.model = simulation::prepare({plant, stops(p, start, direction, plant)}, rig.loops.period_s);
  rig.state = simulation::standing(rig.model, start.mean_m, start.skew_m, 1);
  return rig;
}

// One period; `d` the direction of the search.
void cycle(Rig& rig, Searcher& a, Searcher& b, double way_m, double time_s, int d) {
  const double dt = rig.loops.period_s, before_a = a.reference_m, before_b = b.reference_m;
  const simulation::Read read = simulation::read_feedback(rig.model, rig.state);
  a.go(way_m), b.go(way_m);
  const double va = (a.reference_m - before_a) / dt, vb = (b.reference_m - before_b) / dt;
  const servo::Forces f = servo::step(rig.law, rig.loop,
                                      {d * (a.reference_m + b.reference_m) / 2, d * (va + vb) / 2, 0,
                                       d * (a.reference_m - b.reference_m), d * (va - vb), 0},
                                      read.a_m, read.b_m);
  a.look(time_s, dt, d * read.a_m, d * f.a_n >= kAtLimit * rig.loops.peak_force_a_n);
  b.look(time_s, dt, d * read.b_m, d * f.b_n >= kAtLimit * rig.loops.peak_force_b_n);
  simulation::advance(rig.model, rig.state, {f.a_n, f.b_n});
}

// Ends a little after both are found.
double end_s(const Searcher& a, const Searcher& b, double longest_s) {
  return a.found && b.found ? std::min(longest_s, std::max(a.found->at_s, b.found->at_s) + kAfter_s) : longest_s;
}

}  // namespace

StopRun run_to_stops(const SearchProblem& p, const SearchPlan& plan, const FailingStart& start,
                     const VirtualMachine& machine) {
  const int d = plan.way.direction;
  const Ends from = starts(plan, start);
  Rig rig = rig_of(p, start, d, machine);
  const double dt = rig.loops.period_s;
  const int every = std::max(1, static_cast<int>(kPeriod_s / dt + 0.5));
  StopRun out{.period_s = every * dt};
  Searcher a{.start_m = from.a, .reference_m = from.a}, b{.start_m = from.b, .reference_m = from.b};
  for (int k = 0; k * dt < end_s(a, b, longest_s(p, plan)); ++k) {
    if (k % every == 0) {
      out.a_m.push_back(d * simulation::end_a_m(rig.state));
      out.b_m.push_back(d * simulation::end_b_m(rig.state));
    }
    cycle(rig, a, b, way_at(p, k * dt), k * dt, d);
  }
  out.a = a.found, out.b = b.found;
  return out;
}

StopRun run_to_stops_without_inertia(const SearchProblem& p, const SearchPlan& plan, const FailingStart& start) {
  const int d = plan.way.direction;
  Ends at = starts(plan, start);
  const bool limited = reach_is_promised(p);
  const double spare_a = limited ? *p.stop_force_n - *p.friction_a_n : 0;
  const double spare_b = limited ? *p.stop_force_n - *p.friction_b_n : 0, pull = limited ? *p.guide_n_per_m : 0;
  const double free = d * p.free_skew_m;
  Searcher a{.start_m = at.a, .reference_m = at.a}, b{.start_m = at.b, .reference_m = at.b};
  StopRun out;
  for (double t = 0; t < end_s(a, b, longest_s(p, plan)); t += out.period_s) {
    a.go(way_at(p, t)), b.go(way_at(p, t));
    // As far as the spare force holds a side ahead of the other; never back.
    const double to_a = std::min(a.reference_m, d * start.mark_a_m),
                 to_b = std::min(b.reference_m, d * start.mark_b_m);
    const bool stuck = limited && spare_a + spare_b < 0;
    const auto ahead = [&](double spare, double other, double free_ahead) {
      return pull > 0 ? other + free_ahead + spare / pull : spare < 0 ? -1e9 : 1e9;
    };
    if (!stuck) {
      at.a = std::max(at.a, limited ? std::min(to_a, ahead(spare_a, to_b, free)) : to_a);
      at.b = std::max(at.b, limited ? std::min(to_b, ahead(spare_b, to_a, -free)) : to_b);
    }
    a.look(t, out.period_s, at.a, a.reference_m > at.a + 1e-9);
    b.look(t, out.period_s, at.b, b.reference_m > at.b + 1e-9);
    out.a_m.push_back(at.a), out.b_m.push_back(at.b);
  }
  out.a = a.found, out.b = b.found;
  return out;
}

}  // namespace evenbeam::homing
