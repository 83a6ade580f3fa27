#include "tuning/loops_study.h"

#include <algorithm>
#include <cmath>

#include "base/side_by_side.h"
#include "simulation/linear_loop.h"

namespace evenbeam::tuning {
namespace {

using identification::Identified;
using machine::Machine;

constexpr double kPromise = 1.7;
constexpr int kTrials = 4;

std::vector<GainStep> gain_steps(const Machine& machine, const Identified& id, const Proposal& p,
                                 const std::optional<ForecastMove>& move, const ForecastOptions& options) {
  std::vector<GainStep> out;
  for (double part : {0.5, 0.7, 1.0}) {
    GainStep step{.part = part, .stable = true};
    const machine::Settings s = scaled(p.settings, part, false);
    for (const Case& c : tuning_cases(machine, id.motion.carriage_y_m)) {
      const dynamics::Plant plant = at_case(id.plant, c);
      const machine::Settings here = at_place(p, s, c.carriage_y_m);
      step.stable = step.stable && simulation::stability(plant, here).stable;
      step.peak_sensitivity = std::max(step.peak_sensitivity, peak_sensitivity(plant, here).peak);
    }
    if (move) step.forecast = forecast(*move, id, at_place(p, s, move->carriage_y_m), options);
    out.push_back(step);
  }
  return out;
}

// d = k_s (s_ref - s_free) with an integral in the skew loop, whatever its gains; without, the loop's static
// stiffness K = Kv Kp is in series: k_s K/(k_s + K).
Fight fight_of(const Machine& machine, const Identified& id, const Proposal& p) {
  Fight f;
  const dynamics::Plant& plant = id.plant;
  f.stiffness_n_per_m = plant.yaw_stiffness_n_m_per_rad / (plant.span_m * plant.span_m);
  if (!id.motion.switch_ons.empty()) f.doubt_m = 1.96 * id.motion.switch_ons.front().stress_free_skew_m.sd;
  f.with_integral_n = f.stiffness_n_per_m * f.doubt_m;
  const double scale = (plant.a.force_scale + plant.b.force_scale) / 2;
  const double loop = scale * p.settings.skew.velocity_gain_n_s_per_m * p.settings.skew.position_gain_per_s;
  f.without_integral_n = f.doubt_m * f.stiffness_n_per_m * loop / (f.stiffness_n_per_m + loop);
  const double a = machine.a.continuous_force_n.value_or(machine.a.peak_force_n.value_or(0) / 2);
  const double b = machine.b.continuous_force_n.value_or(machine.b.peak_force_n.value_or(0) / 2);
  f.allowed_n = 0.1 * std::min(a, b);
  return f;
}

std::vector<Trial> learning_trials(const Identified& id, const Proposal& p, const ForecastMove& move,
                                   const ForecastOptions& options) {
  math::Random random(3);
  const dynamics::Plant other = PlantDraws(id).draw(random);
  const ForecastMove stroke = first_stroke(move, p.settings.period_s);
  return rehearse_learning(stroke, other, id, at_place(p, p.settings, move.carriage_y_m), kTrials, options);
}

}  // namespace

CertificateCase certificate_case(const Identified& id, const Machine& machine, const Proposal& p, double limit) {
  const machine::CarriageRange range = machine::carriage_range(machine);
  CertificateCase c{.plant = id.plant, .settings = p.settings, .doubt = joint_doubt(id), .limit = limit};
  c.most_boxes = 10000;  // a second or two; the fitted plant of a medium gantry takes some 5000
  if (p.share.follows) c.share = p.share;
  if (!p.share.follows) c.settings.share = p.share.constant;
  c.carriage_y_m = {range.min_y_m, range.max_y_m};
  c.payload_kg = {machine.payload_min_kg, std::max(machine.payload_min_kg, machine.payload_max_kg.value_or(0))};
  return c;
}

Proofs prove(const CertificateCase& promised) {
  constexpr double kDoubtLimit = 2;  // end of the textbook range; at the promise itself the boxes would be too many
  Proofs out{.doubt_limit = kDoubtLimit};
  CertificateCase fitted = promised, whole = promised;
  fitted.part_of_doubt = 0, whole.part_of_doubt = 1;
  CertificateCase part = whole;
  part.limit = kDoubtLimit, part.most_boxes = 4500;
  WorstFound worst;
  PartProved doubt;
  const bool doubted = promised.doubt.directions > 0;
  base::side_by_side(doubted ? 3 : 1, base::machine_threads(), [&](std::size_t task) {
    if (task == 0) out.fitted = certify(fitted);
    if (task == 1) doubt = certify_doubt(part, {0.25});
    if (task == 2) worst = worst_found(whole);
  });
  // What does not hold for the fitted plant is not asked of others.
  if (out.fitted.state == Certificate::State::proved && doubted) out.worst = worst, out.doubt = doubt;
  return out;
}

void study(LoopsReport& r, const Machine& machine, const Identified& id, const std::optional<ForecastMove>& move,
           const ForecastOptions& options) {
  const Proposal& p = r.proposal;
  const auto of_the_move = [&] {
    ForecastOptions few = options;
    few.draws = 3;
    r.gain_steps = gain_steps(machine, id, p, move, few);
    r.fight = fight_of(machine, id, p);
    if (!move) return;
    r.studied_move = move->name;
    r.structures =
        compare_structures(first_stroke(*move, p.settings.period_s), id, machine, p, kPromise - 0.1, options);
    r.explanation = explain(*move, id, machine, p);
    r.trials = learning_trials(id, p, *move, options);
  };
  base::side_by_side(2, base::machine_threads(), [&](std::size_t task) {
    if (task == 0) r.proofs = prove(certificate_case(id, machine, p, kPromise));
    if (task == 1) of_the_move();
  });
}

}  // namespace evenbeam::tuning
