// Row W5: one grey-box fit of 14 parameters to a 2x2 response at 400 lines, beside a Levenberg-Marquardt written by
// hand for that plant alone, from the same start; and from 100 random starts. Processor times, the best of some runs;
// both must end at the same cost. Row fit: all that the demo's captures tell, from imported captures.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "../checks/demo_job.h"
#include "best_time.h"
#include "fit_hand_kernel.h"
#include "goal.h"
#include "identification/grey_problem.h"
#include "identification/identify.h"
#include "math/random.h"

using namespace evenbeam;
using identification::GreyLine;
using identification::GreyProblem;

namespace {

dynamics::Plant truth() {
  dynamics::Plant p;
  p.span_m = 1.8, p.fixed_mass_kg = 170, p.fixed_moment_kg_m = 3, p.fixed_inertia_kg_m2 = 75;
  p.carriage_mass_kg = 48, p.carriage_y_m = 0.3;
  p.yaw_stiffness_n_m_per_rad = 2e6, p.yaw_damping_n_m_s_per_rad = 900;
  p.a = {45, 3e7, 6000, 0, 180, 1.02};
  p.b = {52, 2.6e7, 5500, 0, 230, 0.98};
  p.delay_s = 2.3e-4, p.current_lag_s = 2.5e-4;
  return p;
}

std::vector<GreyLine> noisy_lines(const dynamics::Plant& p) {
  math::Random random(5);
  std::vector<double> hz;
  for (int i = 0; i < 400; ++i) hz.push_back(2 * std::pow(200.0, i / 399.0));
  const auto model =
      identification::grey_response(p, identification::grey_parameters(p), identification::kGreyBendingHz, hz, false);
  std::vector<GreyLine> out;
  for (size_t i = 0; i < hz.size(); ++i) {
    GreyLine line{hz[i], {}, {}};
    for (size_t k = 0; k < 4; ++k) {
      line.sigma[k] = 0.01 * std::abs(model.g[i][k]);
      line.g[k] =
          model.g[i][k] + line.sigma[k] / std::sqrt(2.0) * identification::Complex(random.normal(), random.normal());
    }
    out.push_back(line);
  }
  return out;
}

std::vector<bench::HandLine> by_hand(const std::vector<GreyLine>& lines) {
  std::vector<bench::HandLine> out;
  for (const GreyLine& line : lines) {
    bench::HandLine hand{2 * std::numbers::pi * line.hz, line.g, {}};
    for (size_t k = 0; k < 4; ++k) hand.by[k] = 1 / line.sigma[k];
    out.push_back(hand);
  }
  return out;
}

bench::HandVector hand_vector(const Eigen::VectorXd& x) {
  bench::HandVector out{};
  for (size_t j = 0; j < out.size(); ++j) out[j] = x[static_cast<Eigen::Index>(j)];
  return out;
}

Eigen::VectorXd start_near(const Eigen::VectorXd& x, math::Random& random, double spread) {
  Eigen::VectorXd out = x;
  for (Eigen::Index j = 1; j < out.size(); ++j)
    out[j] += j == identification::kGreyFixedMoment ? spread * 10 * random.normal() : spread * random.normal();
  out[0] += 0.1 * spread * random.normal();
  return out;
}

// Everything that the demo's captures tell, from imported captures; its reference is the time allowed for a recorded
// machine of like size.
void whole_fit() {
  const checks::DemoJob job = checks::demo_job();
  bool done = false;
  const double ms =
      bench::best_ms(5, [&] { done = identification::identify(job.recordings, job.machine).grey.done; });
  fmt::print("fit of the demo's {} captures, response and motion: {:.0f} ms of processor{}\n", job.recordings.size(),
             ms, done ? "" : ", and no response was fitted");
  bench::tell_goal("fit", "whole fit of the demo / 300 ms", ms / 300, bench::Goal::at_most, 1);
}

}  // namespace

int main() {
  whole_fit();
  const dynamics::Plant plant = truth();
  const std::vector<GreyLine> lines = noisy_lines(plant);
  identification::MotionFit motion;
  motion.mass_kg = math::with_sd(dynamics::total_mass_kg(plant), 1e3);
  identification::GreyPrior prior = identification::grey_prior(plant, motion, {});
  prior.spread.setConstant(1e3);  // the hand fit knows nothing beforehand
  prior.mass_sd_kg = prior.moment_sd_kg_m = prior.inertia_sd_kg_m2 = 1e6;
  const GreyProblem problem(plant, lines, prior, 0);
  const std::vector<bench::HandLine> hand = by_hand(lines);
  const bench::HandFixed fixed{plant.span_m / 2, plant.carriage_mass_kg, plant.carriage_y_m,
                               plant.a.viscous_n_s_per_m, plant.b.viscous_n_s_per_m};
  const Eigen::VectorXd true_x = identification::grey_parameters(plant).head(problem.count());
  math::Random random(1);
  const Eigen::VectorXd start = start_near(true_x, random, 0.1);
  const math::MarquardtOptions options{.most_iterations = 100, .step_tolerance = 1e-7, .covariance = false};
  math::MarquardtResult ours;
  bench::HandFit theirs;
  const double hand_ms = bench::best_ms(20, [&] { theirs = bench::hand_fit(hand, fixed, hand_vector(start)); });
  const double ours_ms = bench::best_ms(20, [&] { ours = math::minimise(std::cref(problem), start, options); });
  fmt::print(
      "W5 one fit, {} parameters, {} lines: {:.2f} ms in {} steps, by hand {:.2f} ms in {}; half squares {:.6g}, "
      "{:.6g}\n",
      problem.count(), lines.size(), ours_ms, ours.iterations, hand_ms, theirs.iterations, ours.half_squares,
      theirs.half_squares);
  if (std::abs(ours.half_squares / theirs.half_squares - 1) > 1e-3) {
    fmt::print("the two did not end at the same cost: no comparison\n");
    return 1;
  }
  std::vector<Eigen::VectorXd> starts;
  for (int k = 0; k < 100; ++k) starts.push_back(start_near(true_x, random, 0.5));
  int found = 0;
  const double starts_ms = bench::best_ms(3, [&] {
    found = 0;
    for (const Eigen::VectorXd& x : starts) {
      const auto r = math::minimise(std::cref(problem), x, options);
      found += r.usable() && r.half_squares < 1.01 * ours.half_squares;
    }
  });
  fmt::print(
      "W5 100 random starts, each number off by a factor of 1.6 (one deviation): {:.0f} ms (goal 250), {} find the "
      "fit\n",
      starts_ms, found);
  using bench::Goal;
  bench::tell_goal("W5", "grey-box fit / by hand, time", ours_ms / hand_ms, Goal::at_most, 1.5);
  bench::tell_goal("W5", "100 random starts / 250 ms", starts_ms / 250, Goal::at_most, 1);
  return 0;
}
