#include "identification/grey_box.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>

#include "base/check.h"
#include "dynamics/beam.h"
#include "identification/grey_problem.h"
#include "identification/whiteness.h"

namespace evenbeam::identification {
namespace {

using Eigen::VectorXd;

constexpr size_t kLeastLines = 12;
constexpr size_t kStartLines = 48;                 // of the search; more only slow it
constexpr int kFirstSteps = 5, kSecondSteps = 15;  // all starts; the better ones
constexpr size_t kSecond = 24, kLast = 6;
constexpr int kMostNarrowed = 3;   // how often the upper lines are let go where the fit misses too much
constexpr double kNarrowed = 0.6;  // of the highest line, each time

double angular(double hz) { return 2 * std::numbers::pi * hz; }

// The first frequency above which skew answers the fight the wrong way round: yaw on guides and drives. 0: none.
double first_skew_hz(const std::vector<GreyLine>& lines) {
  for (const GreyLine& line : lines)
    if ((line.g[0] - line.g[1] - line.g[2] + line.g[3]).real() < 0) return line.hz;
  return 0;
}

struct Guess {
  double yaw_stiffness = 0, drive_hz = 0, bending_hz = 0;
};

// What the motion fit knows as a whole, at the response's carriage place, made plausible where it was misled.
dynamics::Plant whole(const MotionFit& motion, const machine::Machine& machine, double carriage_y_m,
                      double payload_kg) {
  dynamics::Plant p = rigid_plant(motion, machine);
  p.carriage_y_m = carriage_y_m;
  p.payload_kg = payload_kg;
  const double square = dynamics::total_mass_kg(p) * p.span_m * p.span_m;
  const double inertia = dynamics::yaw_inertia_kg_m2(p);
  if (inertia < 0.08 * square || inertia > 0.3 * square) p.fixed_inertia_kg_m2 += 0.16 * square - inertia;
  const double moment = dynamics::first_moment_kg_m(p), most = 0.1 * dynamics::total_mass_kg(p) * p.span_m;
  p.fixed_moment_kg_m += std::clamp(moment, -most, most) - moment;
  return p;
}

void set_motors(dynamics::Plant& p, const machine::Machine& machine) {
  const double total = dynamics::total_mass_kg(p);
  const double most = 0.4 * (total - p.carriage_mass_kg);
  p.a.motor_mass_kg = std::min(machine::reflected_mass_kg(machine.a).value_or(0.15 * total), most);
  p.b.motor_mass_kg = std::min(machine::reflected_mass_kg(machine.b).value_or(0.15 * total), most);
  const double a = p.a.motor_mass_kg, b = p.b.motor_mass_kg;
  p.fixed_mass_kg -= a + b;
  p.fixed_moment_kg_m -= (b - a) * p.span_m / 2;
  const double least = std::max(0.05 * p.fixed_mass_kg * p.span_m * p.span_m,
                                2 * p.fixed_moment_kg_m * p.fixed_moment_kg_m / p.fixed_mass_kg);
  p.fixed_inertia_kg_m2 = std::max(p.fixed_inertia_kg_m2 - (a + b) * p.span_m * p.span_m / 4, least);
}

void set_lags(dynamics::Plant& p, const MotionFit& motion, const machine::Machine& machine) {
  const double hold = machine.servo_period_s.value_or(0);
  const double together = std::clamp(motion.lag_s.value - hold / 2, 1e-4, 3e-3);
  p.delay_s = machine.delay_samples ? std::max(1e-5, *machine.delay_samples * hold) : 0.5 * together;
  p.current_lag_s = std::max(1e-4, together - p.delay_s);
}

dynamics::Plant guessed(dynamics::Plant p, const machine::Machine& machine, const Guess& guess) {
  const double total = dynamics::total_mass_kg(p), w = angular(guess.drive_hz);
  p.yaw_stiffness_n_m_per_rad = guess.yaw_stiffness;
  p.yaw_damping_n_m_s_per_rad = 2 * 0.02 * std::sqrt(guess.yaw_stiffness * dynamics::yaw_inertia_kg_m2(p));
  for (auto* side : {&p.a, &p.b}) {
    const double load = std::max(total / 2 - side->motor_mass_kg, 0.1 * total);
    const double reduced = side->motor_mass_kg * load / (side->motor_mass_kg + load);
    side->drive_stiffness_n_per_m = reduced * w * w;
    side->drive_damping_n_s_per_m = 2 * 0.03 * reduced * w;
  }
  if (!(guess.bending_hz > 0)) return p;
  const double beam = machine.bridge_mass_kg.value_or(0.4 * p.fixed_mass_kg);
  const auto bend = dynamics::bridge_bending(1, beam, p.span_m, std::max(0.01 * beam, (p.fixed_mass_kg - beam) / 2));
  p.bending_hz = guess.bending_hz;
  p.bending_damping = 0.01;
  p.bending_mass_kg = bend.modal_mass_kg;
  p.bending_end_shape = std::clamp(bend.end_shape, -1.6, -0.05);
  return p;
}

std::vector<Guess> guesses(const std::vector<GreyLine>& lines, const dynamics::Plant& p) {
  const double inertia = dynamics::yaw_inertia_kg_m2(p), top = lines.back().hz;
  const double first = first_skew_hz(lines);
  std::vector<double> yaws;
  if (first > 0) yaws.push_back(angular(first) * angular(first) * inertia);
  const double moved = p.yaw_stiffness_n_m_per_rad;
  if (moved > 0 && (yaws.empty() || (moved > 0.2 * yaws[0] && moved < 5 * yaws[0]))) yaws.push_back(moved);
  std::vector<Guess> out;
  for (double yaw : yaws) {
    const double yaw_hz = std::sqrt(yaw / inertia) / angular(1);
    for (double drive_hz = std::max(20.0, 0.7 * yaw_hz); drive_hz < 900; drive_hz *= 1.45) {
      out.push_back({yaw, drive_hz, 0});
      for (double part : {1.3, 2.0, 3.0, 4.5, 7.0})
        if (part * yaw_hz < 1.3 * top) out.push_back({yaw, drive_hz, part * yaw_hz});
    }
  }
  return out;
}

struct Start {
  dynamics::Plant plant;
  VectorXd x;
  double cost = std::numeric_limits<double>::infinity();
};

// Carries a start on; false where it leads nowhere.
bool advance(Start& s, const std::vector<GreyLine>& lines, const MotionFit& motion, const machine::Machine& machine,
             int steps) {
  const GreyProblem problem(s.plant, lines, grey_prior(s.plant, motion, machine), machine.servo_period_s.value_or(0));
  if (s.x.size() == 0) s.x = grey_parameters(s.plant).head(problem.count());
  const auto r = math::minimise(std::cref(problem), s.x,
                                {.most_iterations = steps, .step_tolerance = 1e-7, .covariance = false});
  if (!r.usable()) return false;
  s.x = r.x;
  s.cost = r.half_squares;
  return true;
}

void carry_on(std::vector<Start>& starts, const std::vector<GreyLine>& lines, const MotionFit& motion,
              const machine::Machine& machine, int steps, size_t keep) {
  std::erase_if(starts, [&](Start& s) { return !advance(s, lines, motion, machine, steps); });
  std::sort(starts.begin(), starts.end(), [](const Start& a, const Start& b) { return a.cost < b.cost; });
  if (starts.size() > keep) starts.resize(keep);
}

std::vector<Start> search(const std::vector<GreyLine>& lines, const MotionFit& motion,
                          const machine::Machine& machine, double carriage_y_m, double payload_kg) {
  std::vector<GreyLine> few;
  for (size_t i = 0; i < lines.size(); i += std::max<size_t>(1, lines.size() / kStartLines)) few.push_back(lines[i]);
  dynamics::Plant plant = whole(motion, machine, carriage_y_m, payload_kg);
  const std::vector<Guess> list = guesses(lines, plant);
  set_motors(plant, machine);
  set_lags(plant, motion, machine);
  std::vector<Start> starts;
  for (const Guess& guess : list) starts.push_back({guessed(plant, machine, guess), {}});
  carry_on(starts, few, motion, machine, kFirstSteps, kSecond);
  carry_on(starts, few, motion, machine, kSecondSteps, kLast);
  carry_on(starts, lines, motion, machine, 100, 1);
  return starts;
}

// Motor against its side of the bridge.
double drive_hz(const dynamics::Plant& p, const dynamics::PlantSide& side) {
  const double load = (dynamics::total_mass_kg(p) - p.a.motor_mass_kg - p.b.motor_mass_kg) / 2;
  const double reduced = side.motor_mass_kg * load / (side.motor_mass_kg + load);
  return std::sqrt(side.drive_stiffness_n_per_m / reduced) / angular(1);
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

GreyFit finished(const Start& s, const LineChoice& choice, const MotionFit& motion, const machine::Machine& machine) {
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
    const std::vector<Start> best = search(lines, motion, machine, carriage_y_m, payload_kg);
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
