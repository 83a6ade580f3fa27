#pragma once
// A bench for search.st: the program makes the references, the loop law closes the loops of the virtual gantry,
// marks, switches and stops are met where the bridge ends pass them. The program is run by the second reader of
// structured text (checks/structured_text).
#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "exporting/search_text.h"
#include "homing/search_plan.h"
#include "servo/loop_law.h"
#include "simulation/gantry.h"
#include "structured_text/interpreter.h"

namespace evenbeam::checks {

inline dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 300, p.fixed_inertia_kg_m2 = 110, p.carriage_mass_kg = 60, p.carriage_y_m = 0.4;
  p.yaw_stiffness_n_m_per_rad = 4e5, p.yaw_damping_n_m_s_per_rad = 400;
  for (dynamics::PlantSide* side : {&p.a, &p.b}) {
    side->motor_mass_kg = 40, side->coulomb_n = 40, side->viscous_n_s_per_m = 150;
  }
  p.delay_s = 3e-4, p.current_lag_s = 2e-4;
  return p;
}

inline machine::Settings loops() {
  machine::Settings s;
  s.period_s = 2.5e-4, s.share = 0.47, s.mass_ff_kg = 440, s.coulomb_ramp_m_per_s = 0.002;
  s.coulomb_ff_a_n = s.coulomb_ff_b_n = 40, s.viscous_ff_a_n_s_per_m = s.viscous_ff_b_n_s_per_m = 150;
  s.peak_force_a_n = s.peak_force_b_n = 2500;
  s.mean = {20, 40000, 0.06, 1000, {}};
  s.skew = {20, 9000, 0.06, 1000, {}};
  return s;
}

inline homing::SearchProblem problem() {
  homing::SearchProblem p;
  p.a.mark_m = {0.0499, 0.0501}, p.b.mark_m = {0.0518, 0.0522};  // B's mark 2 mm further
  p.start_m = {0, 0.03}, p.start_skew_m = {-0.6e-3, 0.6e-3}, p.hold_error_m = 0.1e-3;
  p.speed_m_per_s = 0.02, p.acceleration_m_per_s2 = 0.4, p.latch_delay_s = {0, 2e-3}, p.travel_m = {-0.05, 0.3};
  p.direction = 1;
  return p;
}

inline homing::SearchRecipe recipe(const homing::SearchProblem& p, const homing::SearchPlan& plan) {
  homing::SearchRecipe r{.known = plan.possible, .promised = plan.promised, .reason = plan.reason, .words = "test"};
  r.reference = p.reference, r.controller = p.controller;
  r.direction = plan.way.direction, r.a_leads = plan.way.a_leads, r.backs_off = plan.way.backs_off;
  r.speed_m_per_s = p.speed_m_per_s, r.acceleration_m_per_s2 = p.acceleration_m_per_s2;
  r.overtravel_m = plan.way.overtravel_m, r.longest_run_m = plan.way.longest_run_m,
  r.longest_other_m = plan.way.longest_other_m;
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
  double largest_force_n = 0,
         lean_m = 0;    // of either side while searching; of the end further beyond its mark at the end of all
  double beyond_m = 0;  // the leading end beyond its mark where it stood
};

inline constexpr double cycle_s = 1e-3;

// What stands along the rails of a side, places true.
struct Rail {
  double mark_m = 0, pitch_m = 0, code_step_m = 0;  // with a pitch marks repeat; with a step between them coded ones
  std::optional<double> edge_m;                     // a switch, made beyond
  bool wall = false;                                // a stop stands at the mark
};

// A side's latch: raw position where a mark is passed along the search while it is armed.
struct Latch {
  Rail rail;
  int direction = 1;
  double before_m = 0, raw_before_m = 0, raw_m = 0;
  bool seen = false, gone = false;
  double stands_at_m = 0;
  int stands_for = 0;
  std::optional<double> first_raw_m;  // coded: of the first of two neighbours

  // First mark in (from, to] along the search.
  std::optional<double> passed(double from, double to) const {
    if (rail.pitch_m == 0) return from < along(0) && to >= along(0) ? std::optional(rail.mark_m) : std::nullopt;
    for (int k = -30; k <= 30; ++k) {
      const double fixed = rail.mark_m + k * rail.pitch_m;
      const double coded = fixed + rail.pitch_m / 2 + (k + 40) * rail.code_step_m;
      if (from < direction * fixed && to >= direction * fixed) return fixed;
      if (rail.code_step_m > 0 && from < direction * coded && to >= direction * coded) return coded;
    }
    return std::nullopt;
  }
  double along(int k) const { return direction * (rail.mark_m + k * rail.pitch_m); }

  void look(double end_m, double raw, bool armed, bool pressing) {
    const auto mark = passed(direction * before_m, direction * end_m);
    if (armed && !seen && !gone) {
      if (rail.wall && stands(raw, pressing)) seen = true, raw_m = raw;
      if (!rail.wall && mark) take(raw_before_m + (raw - raw_before_m) * (*mark - before_m) / (end_m - before_m));
    }
    before_m = end_m, raw_before_m = raw;
  }
  // Force alone would be fooled: loops of mean and skew press on with both sides while one is held.
  bool stands(double raw, bool pressing) {
    if (!pressing || std::abs(raw - stands_at_m) > 10e-6) stands_at_m = raw, stands_for = 0;
    return ++stands_for > 80;  // periods, 20 ms
  }
  void take(double raw) {
    if (rail.code_step_m == 0) {
      seen = true, raw_m = raw;
    } else if (!first_raw_m) {
      first_raw_m = raw;
    } else {  // the spacing tells the number: fixed k to coded k is half a pitch and k + 40 steps
      const double low = std::min(*first_raw_m, raw), apart = std::abs(raw - *first_raw_m);
      const int steps = static_cast<int>(std::lround(std::abs(apart - rail.pitch_m / 2) / rail.code_step_m));
      // Less than half a pitch: from coded k to fixed k + 1.
      const bool fixed_first = apart > rail.pitch_m / 2;
      raw_m = fixed_first ? low - (steps - 40) * rail.pitch_m : low + apart - (steps - 39) * rail.pitch_m;
      seen = true;
    }
  }
};

struct Stand {  // where a run begins
  double mean_m = 0, skew_m = 0;
  Rail a, b;
  int direction = 1;
  double stop_force_n = 0, stop_stiffness_n_per_m = 0;
  bool absolute = false;
};

class Bench {
 public:
  Bench(const std::string& source, double mean_m, double skew_m, double mark_a_m, double mark_b_m)
      : Bench(source,
              Stand{.mean_m = mean_m, .skew_m = skew_m, .a = {.mark_m = mark_a_m}, .b = {.mark_m = mark_b_m}}) {}
  Bench(const std::string& source, const Stand& stand)
      : text_(source),
        program_(text_, "GantrySearch"),
        model_(simulation::prepare({plant(), effects(stand)}, loops().period_s)),
        state_(simulation::standing(model_, stand.mean_m, stand.skew_m, 1)),
        law_(servo::prepare(loops())),
        stand_(stand) {
    start_ = simulation::read_feedback(model_, state_);
    a_.rail = stand.a, b_.rail = stand.b;
    a_.direction = b_.direction = stand.direction;
    a_.before_m = simulation::end_a_m(state_), b_.before_m = simulation::end_b_m(state_);
    if (!stand.absolute) return;
    a_.seen = b_.seen = true;
    a_.raw_m = stand.a.mark_m - a_.before_m, b_.raw_m = stand.b.mark_m - b_.before_m;
  }

  Outcome run(const Trouble& trouble, double most_s = 14, double back_switch_m = -1, bool a_leads = false) {
    a_.gone = trouble.no_mark_a, b_.gone = trouble.no_mark_b, b_.rail.mark_m += trouble.mark_b_shift_m;
    Outcome out;
    for (int k = 0; k * cycle_s < most_s && !out.done && !out.failed; ++k) {
      cycle(k, trouble, back_switch_m);
      out.done = program_.at("Done") != 0, out.failed = program_.at("Failed") != 0;
      if (program_.at("State") < 50)
        out.largest_force_n = std::max({out.largest_force_n, std::abs(forces_.a_n), std::abs(forces_.b_n)});
      out.farthest_m = std::max(out.farthest_m, simulation::end_a_m(state_));
      out.seconds = k * cycle_s;
      if (program_.at("State") < 50)
        out.beyond_m =
            a_leads ? simulation::end_a_m(state_) - a_.rail.mark_m : simulation::end_b_m(state_) - b_.rail.mark_m;
    }
    out.lean_m = std::max(stand_.direction * (simulation::end_a_m(state_) - stand_.a.mark_m),
                          stand_.direction * (simulation::end_b_m(state_) - stand_.b.mark_m));
    out.end_speed_m_per_s = std::abs(program_.at("SpeedA")) + std::abs(program_.at("SpeedB"));
    for (int k = 0; k < 300; ++k) cycle(-1, {}, back_switch_m);  // comes to rest
    out.reason = static_cast<int>(program_.at("Reason")), out.disable = program_.at("Disable") != 0;
    out.true_skew_m = simulation::end_a_m(state_) - simulation::end_b_m(state_);
    out.zero_a_m = program_.at("ZeroA") + start_.a_m, out.zero_b_m = program_.at("ZeroB") + start_.b_m;
    return out;
  }

 private:
  static dynamics::Effects effects(const Stand& stand) {
    dynamics::Effects e;
    for (auto& [side, rail] : {std::pair{&e.a, &stand.a}, std::pair{&e.b, &stand.b}}) {
      if (!rail->wall) continue;
      (stand.direction > 0 ? side->stop_high_m : side->stop_low_m) = rail->mark_m;
      side->stop_stiffness_n_per_m = stand.stop_stiffness_n_per_m, side->stop_damping_n_s_per_m = 4e3;
    }
    return e;
  }
  double beyond_edge(const Rail& rail, double end_m) const {
    return rail.edge_m && stand_.direction * (end_m - *rail.edge_m) >= 0;
  }
  void switches() {
    if (!stand_.a.edge_m) return;
    program_.at("EdgeA") = beyond_edge(stand_.a, simulation::end_a_m(state_));
    program_.at("EdgeB") = beyond_edge(stand_.b, simulation::end_b_m(state_));
  }
  void cycle(int k, const Trouble& trouble, double back_switch_m) {
    const double t = k * cycle_s;
    program_.at("Start") = k > 2;
    program_.at("BothReady") = !(trouble.ready_lost && t > 1);
    program_.at("Halt") = trouble.halt && t > 1;
    program_.at("PositionA") = raw_.a_m, program_.at("PositionB") = raw_.b_m;
    program_.at("MarkA") = a_.seen || trouble.mark_stale, program_.at("MarkB") = b_.seen;
    program_.at("LatchA") = a_.raw_m, program_.at("LatchB") = b_.raw_m;
    if (back_switch_m > -1) program_.at("BackSwitch") = simulation::end_a_m(state_) < back_switch_m;
    switches();
    program_.run(cycle_s * 1e3);
    if (stand_.stop_force_n > 0)
      law_.peak_a_n = law_.peak_b_n = program_.at("LimitForce") != 0 ? stand_.stop_force_n : loops().peak_force_a_n;
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
      forces_ = servo::step(law_, loop_, {(ra + rb) / 2, (va + vb) / 2, 0, ra - rb, va - vb, 0}, raw_.a_m, raw_.b_m);
      simulation::advance(model_, state_, {forces_.a_n, forces_.b_n});
      const simulation::Read read = simulation::read_feedback(model_, state_);
      raw_ = {read.a_m - start_.a_m, read.b_m - start_.b_m};
      a_.look(simulation::end_a_m(state_), raw_.a_m, arm_a, pressing(forces_.a_n));
      b_.look(simulation::end_b_m(state_), raw_.b_m, arm_b, pressing(forces_.b_n));
    }
  }

  bool pressing(double force_n) const { return stand_.direction * force_n >= 0.99 * stand_.stop_force_n; }

  structured_text::Text text_;
  structured_text::Running program_;
  simulation::GantryModel model_;
  simulation::GantryState state_;
  servo::LoopLaw law_;
  servo::LoopState loop_;
  servo::Forces forces_;
  Stand stand_;
  simulation::Read start_, raw_, wanted_;
  Latch a_, b_;
};

}  // namespace evenbeam::checks
