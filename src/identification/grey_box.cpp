#include "identification/grey_box.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "identification/grey_problem.h"
#include "identification/grey_start.h"
#include "identification/whiteness.h"

namespace evenbeam::identification {
namespace {

using Eigen::VectorXd;

constexpr size_t kLeastLines = 12;
constexpr int kMostNarrowed = 3;   // how often the upper lines are let go where the fit misses too much
constexpr double kNarrowed = 0.6;  // of the highest line, each time

// Motor against its side of the bridge.
double drive_hz(const dynamics::Plant& p, const dynamics::PlantSide& side) {
  const double load = (dynamics::total_mass_kg(p) - p.a.motor_mass_kg - p.b.motor_mass_kg) / 2;
  const double reduced = side.motor_mass_kg * load / (side.motor_mass_kg + load);
  return std::sqrt(side.drive_stiffness_n_per_m / reduced) / (2 * std::numbers::pi);
}

// Lines on and around a resonance.
bool seen(double resonance_hz, const std::vector<double>& hz) {
  return std::count_if(hz.begin(), hz.end(), [&](double f) { return std::abs(f / resonance_hz - 1) < 0.2; }) >= 4;
}

std::vector<Sides> misses_of(const std::vector<Sides>& modelled, const std::vector<GreyLine>& lines) {
  std::vector<Sides> out(lines.size());
  for (size_t i = 0; i < lines.size(); ++i)
    for (size_t k = 0; k < 4; ++k) out[i][k] = (modelled[i][k] - lines[i].g[k]) / lines[i].sigma[k];
  return out;
}

double median_misfit(const std::vector<Sides>& misses) {
  std::vector<double> sizes;
  for (const Sides& line : misses)
    for (const Complex& miss : line) sizes.push_back(std::abs(miss));
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  return *middle / 1.177;  // median of a complex normal number of unit parts
}

void judge_misfit(GreyFit& fit, const GreyProblem& problem, const VectorXd& x) {
  fit.hz = problem.hz();
  fit.modelled = problem.response(x, false).g;
  double relative = 0;
  for (size_t i = 0; i < fit.hz.size(); ++i) {
    const GreyLine& line = problem.lines()[i];
    fit.measured.push_back(line.g);
    for (size_t k = 0; k < 4; ++k) relative += std::norm(fit.modelled[i][k] - line.g[k]) / std::norm(line.g[k]);
  }
  const std::vector<Sides> misses = misses_of(fit.modelled, problem.lines());
  fit.misfit = median_misfit(misses);
  const Whiteness white = line_whiteness(misses);
  fit.residual_correlation = white.correlation;
  fit.white_within = white.white_within;
  fit.within = std::sqrt(relative / (4 * static_cast<double>(misses.size())));
}

void judge_held_out(GreyFit& fit, const GreyProblem& used, const VectorXd& x, const std::vector<GreyLine>& held_out,
                    double hold_s) {
  fit.held_out = held_out.size();
  if (held_out.empty()) return;
  const GreyProblem problem(used.plant(x), held_out, used.prior(), hold_s);
  fit.held_out_misfit = median_misfit(misses_of(problem.response(x, false).g, held_out));
}

void put_spread(GreyFit& fit, const GreyProblem& problem, const VectorXd& x, const Eigen::MatrixXd& covariance) {
  const GreyResponse model = problem.response(x, true);
  for (size_t i = 0; i < model.g.size(); ++i) {
    std::array<Sides, kGreyCount> turned{};
    std::transform(model.d[i].begin(), model.d[i].end(), turned.begin(), mean_and_skew);
    fit.sides_sd.push_back(model_spread(model.g[i], model.d[i], covariance));
    fit.mean_skew_sd.push_back(model_spread(mean_and_skew(model.g[i]), turned, covariance));
  }
}

GreyFit finished(const GreyStart& s, const LineChoice& choice, const MotionFit& motion,
                 const machine::Machine& machine) {
  GreyFit fit;
  const GreyPrior prior = grey_prior(s.plant, motion, machine);
  const double hold_s = machine.servo_period_s.value_or(0);
  const GreyProblem problem(s.plant, choice.used, prior, hold_s);
  fit.plant = problem.plant(s.x);
  fit.bends = s.plant.bending_hz > 0;
  judge_misfit(fit, problem, s.x);
  judge_held_out(fit, problem, s.x, choice.held_out, hold_s);
  if (fit.misfit > most_misfit) {
    fit.reason = fmt::format(
        "the best of the fits tried leaves the response {:.1f} times as far off as its noise and a lumped model "
        "allow",
        fit.misfit);
    return fit;
  }
  const Eigen::MatrixXd covariance = block_covariance(problem, s.x, fit.misfit);
  if (!covariance.allFinite()) {
    fit.reason = "the response does not tell the plant's numbers apart";
    return fit;
  }
  const VectorXd full = problem.padded(s.x);
  fit.drives_seen = seen(drive_hz(fit.plant, fit.plant.a), fit.hz) && seen(drive_hz(fit.plant, fit.plant.b), fit.hz);
  for (int j = 0; j < problem.count(); ++j) {
    const double sd_parameter = std::sqrt(covariance(j, j));
    double from_data = std::clamp(1 - std::pow(sd_parameter / prior.spread[j], 2), 0.0, 1.0);
    if (!fit.drives_seen && j >= kGreyMotorA && j <= kGreyDampingB) from_data = 0;
    fit.parameters.push_back(
        math::with_sd(grey_value(j, full[j]), std::abs(grey_slope(j, full[j])) * sd_parameter, from_data));
  }
  fit.knowledge = response_knowledge(problem, s.x, covariance);
  put_spread(fit, problem, s.x, covariance);
  fit.covariance = covariance;
  fit.done = true;
  fit.reason.clear();
  return fit;
}

}  // namespace

dynamics::Plant rigid_plant(const MotionFit& motion, const machine::Machine& machine) {
  base::check(motion.done, "a plant needs a finished motion fit");
  dynamics::Plant p;
  p.span_m = machine.span_m;
  p.carriage_mass_kg = std::max(0.0, motion.carriage_mass_kg.value);
  p.carriage_y_m = motion.carriage_y_m;
  p.fixed_mass_kg = motion.mass_kg.value - p.carriage_mass_kg;
  p.fixed_moment_kg_m = motion.moment_kg_m.value - p.carriage_mass_kg * p.carriage_y_m;
  p.fixed_inertia_kg_m2 =
      std::max(1e-3, motion.inertia_kg_m2.value - p.carriage_mass_kg * p.carriage_y_m * p.carriage_y_m);
  p.yaw_stiffness_n_m_per_rad = std::max(0.0, motion.yaw_stiffness_n_m_per_rad.value);
  p.yaw_damping_n_m_s_per_rad = std::max(0.0, motion.yaw_damping_n_m_s_per_rad.value);
  if (!motion.switch_ons.empty()) p.stress_free_skew_m = motion.switch_ons.front().stress_free_skew_m.value;
  p.a.coulomb_n = std::max(0.0, motion.coulomb_a_n.value);
  p.b.coulomb_n = std::max(0.0, motion.coulomb_b_n.value);
  p.a.viscous_n_s_per_m = std::max(0.0, motion.viscous_a_n_s_per_m.value);
  p.b.viscous_n_s_per_m = std::max(0.0, motion.viscous_b_n_s_per_m.value);
  p.a.force_scale = 1 + motion.force_imbalance.value;
  p.b.force_scale = 1 - motion.force_imbalance.value;
  p.delay_s = std::max(0.0, motion.lag_s.value);
  p.feedback_on_motor = machine.a.feedback_place == machine::FeedbackPlace::motor;
  return p;
}

GreyFit fit_grey_box(const signal::Response& response, const MotionFit& motion, const machine::Machine& machine,
                     double carriage_y_m, double payload_kg) {
  GreyFit fit;
  if (response.state != signal::ResponseState::done) {
    if (!response.reason.empty()) fit.reason = response.reason;
    return fit;
  }
  if (!motion.done) {
    fit.reason = "the motion fit, on which this one builds, was not possible: " + motion.reason;
    return fit;
  }
  const auto at_motor = [](const machine::Side& side) {
    return side.feedback_place == machine::FeedbackPlace::motor;
  };
  if (at_motor(machine.a) != at_motor(machine.b)) {
    fit.reason =
        "one side is read at its motor, the other at the bridge, and this fit reads both at one kind of place";
    return fit;
  }
  LineChoice choice = choose_lines(response, machine.servo_period_s.value_or(0));
  std::vector<GreyLine>& lines = choice.used;
  fit.reason = fmt::format("fewer than {} usable lines in the measured response", kLeastLines);
  // Where a lumped bridge cannot follow the upper lines, the lower ones still tell yaw, masses and share.
  for (int narrowed = 0; narrowed <= kMostNarrowed && lines.size() >= kLeastLines; ++narrowed) {
    const std::vector<GreyStart> best = carried_starts(lines, motion, machine, carriage_y_m, payload_kg);
    GreyFit next;
    next.reason = "no start led to a usable fit of the response";
    if (!best.empty()) next = finished(best.front(), choice, motion, machine);
    next.left_above_hz = narrowed > 0 ? lines.back().hz : 0;
    if (next.done) return next;
    if (narrowed == 0) fit = std::move(next);
    const double top = kNarrowed * lines.back().hz;
    for (auto* part : {&choice.used, &choice.held_out})
      std::erase_if(*part, [&](const GreyLine& line) { return line.hz > top; });
  }
  return fit;
}

}  // namespace evenbeam::identification
