#include "homing/search_request.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

constexpr double kSeenToRange = 1.5;           // range allowed for over what was seen; common practice, no source
constexpr double kSearchSpeed_m_per_s = 0.02;  // common practice, no source
constexpr double kSearchAcceleration = 0.5;    // m/s^2; gentle, which makes the way to stop longer, not shorter
constexpr double kLatchDelay_s = 1e-3;         // a servo cycle or less, from memory
constexpr double kHoldError_m = 1e-4;  // of soft first loops, no search recorded yet; common practice, no source

double mm(double metres) { return 1e3 * metres; }

Reference reference_of(const machine::Machine& m) {
  if (m.homing.reference) return *m.homing.reference;
  if (m.a.feedback == machine::FeedbackKind::absolute) return Reference::absolute;
  if (m.a.feedback == machine::FeedbackKind::distance_coded) return Reference::distance_coded;
  return m.a.mark_pitch_m ? Reference::periodic : Reference::single_mark;
}

std::optional<Interval> stated(const machine::Stretch& s) {
  return s.from_m && s.to_m ? std::optional(Interval{*s.from_m, *s.to_m}) : std::nullopt;
}
Interval shifted(const Interval& i, double by) { return {i.low + by, i.high + by}; }

struct Builder {
  const machine::Machine& machine;
  const Marks& marks;
  SearchRequest out;
  double mark_b_m = 0;  // middle

  void assume(std::string sentence) { out.assumed.push_back(std::move(sentence)); }
  void lack(std::string sentence) { out.missing.push_back(std::move(sentence)); }

  void place_marks() {
    const machine::Homing& h = machine.homing;
    SearchProblem& p = out.problem;
    if (marks.known) {
      const auto& d = marks.b_minus_a_free_m;
      // One search's own scatter comes on top of the mean's doubt.
      const double scatter = 3 * marks.spread_m;
      p.b.mark_m = {-d.upper - scatter, -d.lower + scatter};
    } else if (h.mark_b_ahead_m) {
      const double doubt = h.mark_doubt_m.value_or(1e-3);
      if (!h.mark_doubt_m) assume("B's mark stands within 1 mm of the drawing (mark_doubt is not stated)");
      p.b.mark_m = {*h.mark_b_ahead_m - doubt, *h.mark_b_ahead_m + doubt};
    } else if (marks.b_minus_a_bounds_m) {
      p.b.mark_m = {-marks.b_minus_a_bounds_m->high, -marks.b_minus_a_bounds_m->low};
      assume("where B's mark lies against A's is only bounded by the searches and the allowable skew");
    } else {
      lack(
          "where B's mark lies against A's: five recorded searches with outputs, or mark_b_ahead and mark_doubt in "
          "[homing]");
    }
    mark_b_m = (p.b.mark_m.low + p.b.mark_m.high) / 2;
  }

  void place_switches() {
    const machine::Homing& h = machine.homing;
    SearchProblem& p = out.problem;
    const auto a = stated(h.a.edge), b = stated(h.b.edge);
    if (a) p.a.edge_m = *a;
    if (b) p.b.edge_m = shifted(*b, mark_b_m);
    if (p.reference == Reference::switch_and_mark && (!a || (!b && !h.edge_shared)))
      lack("where the switches are met: switch_a and switch_b in [homing]");
    p.edge_shared = h.edge_shared;
    p.a.back_off_edge_m = stated(h.a.back_off);
    p.b.back_off_edge_m = stated(h.b.back_off);
    if (p.b.back_off_edge_m) *p.b.back_off_edge_m = shifted(*p.b.back_off_edge_m, mark_b_m);
  }

  // Range of the recorded searches: the middle of the bridge when they began, from A's mark.
  std::optional<Interval> recorded_start() const {
    std::optional<Interval> range;
    for (const SearchRun& run : marks.runs) {
      if (!run.both_seen || run.left_out) continue;
      const double mean = (run.start_a_m - run.latch_a_m + run.start_b_m - run.latch_b_m + mark_b_m) / 2;
      if (!range) range = Interval{mean, mean};
      range = Interval{std::min(range->low, mean), std::max(range->high, mean)};
    }
    return range;
  }

  void start() {
    SearchProblem& p = out.problem;
    if (const auto range = stated(machine.homing.start)) {
      p.start_m = *range;
    } else if (const auto seen = recorded_start()) {
      p.start_m = *seen;
      assume(
          fmt::format("searches begin where the recorded ones did, {:.1f} to {:.1f} mm from A's mark (start in "
                      "[homing] is not stated)",
                      mm(seen->low), mm(seen->high)));
    } else {
      lack("where searches may begin: start in [homing]");
    }
    double seen = 0;
    for (const SearchRun& run : marks.runs)
      if (run.stress_free_m) seen = std::max(seen, std::abs(run.stress_free_m->value) + 2 * run.stress_free_m->sd);
    std::optional<double> half = machine.homing.start_skew_m;
    if (!half && seen > 0) {
      half = kSeenToRange * seen;
      assume(
          fmt::format("switched on within {:.3f} mm of the stress-free attitude, 1.5 times the largest of the "
                      "recorded searches (start_skew in [homing] is not stated)",
                      mm(*half)));
    } else if (!half && p.allowable_skew_m) {
      half = p.allowable_skew_m;
      assume("switched on anywhere within the allowable skew");
    }
    if (half)
      p.start_skew_m = {-*half, *half};
    else
      lack("how far the bridge may be racked when it is switched on: start_skew in [homing]");
  }

  void motion() {
    const machine::Homing& h = machine.homing;
    SearchProblem& p = out.problem;
    double speed = 0, hold = 0, forward = 0, back = 0;
    for (const SearchRun& run : marks.runs) {
      speed = std::max(speed, std::abs(run.speed_m_per_s));
      hold = std::max(hold, run.hold_error_m);
      (run.speed_m_per_s < 0 ? back : forward) += run.speed_m_per_s != 0;
    }
    speed = std::round(speed * 1e5) / 1e5;
    p.speed_m_per_s = h.speed_m_per_s.value_or(speed > 0 ? speed : kSearchSpeed_m_per_s);
    if (!h.speed_m_per_s && speed == 0) assume("search at 20 mm/s");
    p.acceleration_m_per_s2 = h.acceleration_m_per_s2.value_or(
        std::min(kSearchAcceleration, machine.limits.acceleration_m_per_s2.value_or(1)));
    if (!h.acceleration_m_per_s2)
      assume(fmt::format("speeds up and brakes with {:.2g} m/s^2 (acceleration in [homing] is not stated)",
                         p.acceleration_m_per_s2));
    p.latch_delay_s = {0, h.latch_delay_s.value_or(kLatchDelay_s)};
    if (!h.latch_delay_s) assume("a latch acts within 1 ms");
    p.hold_error_m = h.hold_error_m.value_or(hold > 0 ? hold : kHoldError_m);
    if (!h.hold_error_m)
      assume(hold > 0 ? fmt::format("the skew strays by the {:.3f} mm of the recorded searches", mm(hold))
                      : fmt::format("the skew strays by {:.1f} mm at most (hold_error in [homing] is not stated)",
                                    mm(kHoldError_m)));
    p.direction = h.direction;
    if (!h.direction && (forward > 0) != (back > 0)) p.direction = forward > 0 ? 1 : -1;
    p.a_leads = h.a_leads;
    if (!h.a_leads && p.controller == Controller::one_command)
      assume("the mark of either side can end the move (leading_side in [homing] is not stated)");
    if (const auto travel = stated(h.travel))
      p.travel_m = *travel;
    else
      assume("the search ends inside the travel (travel in [homing] is not stated, so that this is not promised)");
  }

  // Upper ends, in commanded newtons.
  void stops(const Resistance& r) {
    const machine::Homing& h = machine.homing;
    SearchProblem& p = out.problem;
    if (p.reference != Reference::hard_stop) return;
    p.stop_give_m = h.stop_give_m.value_or(0);
    p.stop_force_n = h.stop_force_n;
    p.force_limit_n = h.stop_force_limit_n;
    if (!p.stop_force_n)
      assume("the force of each side finds its stop and spares the guides (stop_force in [homing] is not stated)");
    else if (!p.force_limit_n)
      assume("the guides take the force that finds the stops (stop_force_limit in [homing] is not stated)");
    if (!h.stop_give_m) assume("the stops give nothing (stop_give in [homing] is not stated)");
    const auto least = [](const std::optional<base::Estimate>& scale) { return scale ? scale->lower : 1.0; };
    const auto friction = [&](const auto& coulomb, const auto& viscous, double scale) -> std::optional<double> {
      if (!coulomb || scale <= 0) return std::nullopt;
      return (coulomb->upper + (viscous ? std::max(0.0, viscous->upper) : 0) * p.speed_m_per_s) / scale;
    };
    const double scale_a = least(r.force_scale_a), scale_b = least(r.force_scale_b);
    p.friction_a_n = friction(r.coulomb_a_n, r.viscous_a_n_s_per_m, scale_a);
    p.friction_b_n = friction(r.coulomb_b_n, r.viscous_b_n_s_per_m, scale_b);
    const bool turns_freely = machine.guides.ends == machine::EndKind::pivoted;
    std::optional<double> stiffness = machine.guides.yaw_stiffness_n_m_per_rad;
    if (r.yaw_stiffness_n_m_per_rad) stiffness = r.yaw_stiffness_n_m_per_rad->upper;
    if (turns_freely) stiffness = 0;
    if (stiffness && std::min(scale_a, scale_b) > 0)
      p.guide_n_per_m = *stiffness / (machine.span_m * machine.span_m) / std::min(scale_a, scale_b);
    if (r.moving_mass_kg && std::min(scale_a, scale_b) > 0)
      p.mass_kg = r.moving_mass_kg->upper / std::min(scale_a, scale_b);
    if (p.stop_force_n && !reach_is_promised(p))
      assume(
          "the force reaches the stops against friction, guides and mass, which are not known: fit them from "
          "recordings with outputs");
  }
};

}  // namespace

SearchRequest search_request(const machine::Machine& machine, const Marks& marks,
                             std::optional<double> allowable_skew_m, const Resistance& resistance) {
  Builder builder{.machine = machine, .marks = marks};
  SearchProblem& p = builder.out.problem;
  const machine::Homing& h = machine.homing;
  p.reference = reference_of(machine);
  p.controller = h.moves;
  p.pitch_m = machine.a.mark_pitch_m ? machine.a.mark_pitch_m : machine.b.mark_pitch_m;
  p.code_step_m = h.code_step_m.value_or(0);
  p.allowable_skew_m = allowable_skew_m;
  const bool by_pitch = p.reference == Reference::periodic || p.reference == Reference::distance_coded;
  if (by_pitch && !p.pitch_m) builder.lack("the pitch of the marks: mark_pitch in [side]");
  if (p.reference == Reference::distance_coded && !h.code_step_m)
    builder.assume("one step of the code is small against the pitch (code_step in [homing] is not stated)");
  builder.place_marks();
  builder.place_switches();
  builder.start();
  builder.motion();
  builder.stops(resistance);
  builder.out.possible = builder.out.missing.empty();
  return builder.out;
}

}  // namespace evenbeam::homing
