#include "identification/grey_problem.h"

#include <doctest/doctest.h>

#include <cmath>

#include "identification/grey_sample_test.h"

namespace evenbeam::identification {
namespace {

using test::sample;

GreyProblem problem_at(double hold_s) {
  std::vector<GreyLine> lines;
  for (double hz : {3.0, 20.0, 60.0, 120.0, 250.0, 400.0}) {
    GreyLine line{hz, {}, {}};
    const auto g = grey_response(sample(), grey_parameters(sample()), kGreyCount, {hz}, false).g.front();
    for (size_t k = 0; k < 4; ++k) {
      line.g[k] = g[k] * Complex(1.1, 0.05);  // off by about 10 %: within Huber's corner on some, beyond on others
      line.sigma[k] = (k == 0 ? 0.2 : 0.01) * std::abs(g[k]);
    }
    lines.push_back(line);
  }
  MotionFit motion;
  motion.mass_kg = math::with_sd(230, 1);
  motion.moment_kg_m = math::with_sd(10, 1);
  return GreyProblem(sample(), lines, grey_prior(sample(), motion, machine::Machine{}), hold_s);
}

}  // namespace

TEST_CASE("the Jacobian is that of the residuals, with and without aliases") {
  for (double hold_s : {0.0, 1e-3}) {
    const GreyProblem problem = problem_at(hold_s);
    const Eigen::VectorXd x = grey_parameters(sample());
    Eigen::VectorXd r, up_r, down_r;
    Eigen::MatrixXd jacobian;
    REQUIRE(problem(x, r, &jacobian));
    for (int j = 0; j < problem.count(); ++j) {
      CAPTURE(grey_name(j));
      CAPTURE(hold_s);
      Eigen::VectorXd up = x, down = x;
      up[j] += 1e-5;
      down[j] -= 1e-5;
      REQUIRE(problem(up, up_r, nullptr));
      REQUIRE(problem(down, down_r, nullptr));
      const Eigen::VectorXd difference = (up_r - down_r) / 2e-5;
      CHECK((difference - jacobian.col(j)).norm() < 1e-5 * (difference.norm() + 1));
    }
  }
}

TEST_CASE("aliases: the samples' response of a mass alone, summed in closed form") {
  // Force held for T, position of a mass m sampled each T: T^2/(2m) (z + 1)/(z - 1)^2.
  dynamics::Plant p = sample();
  const double T = 1e-3, mass = 1000, hz = 300;
  p.fixed_mass_kg = mass, p.fixed_moment_kg_m = 0, p.carriage_mass_kg = 0, p.bending_hz = 0;
  p.a.viscous_n_s_per_m = p.b.viscous_n_s_per_m = 0;
  p.a.force_scale = p.b.force_scale = 1;
  p.a.motor_mass_kg = p.b.motor_mass_kg = 1e-3;
  p.a.drive_stiffness_n_per_m = p.b.drive_stiffness_n_per_m = 1e12;
  p.delay_s = p.current_lag_s = 1e-9;
  MotionFit motion;
  motion.mass_kg = math::with_sd(mass, 1);
  const GreyProblem problem(p, {{hz, {}, {1, 1, 1, 1}}}, grey_prior(p, motion, machine::Machine{}), T);
  const auto g = problem.response(grey_parameters(p).head(problem.count()), false).g.front();
  const Complex both = (g[0] + g[1] + g[2] + g[3]) / 2.0;  // mean place per sum of forces, each half
  const double x = 2 * 3.141592653589793 * hz * T;
  const Complex z = std::polar(1.0, x), hold = std::polar(2 * std::sin(x / 2) / x, -x / 2);
  const Complex exact = T * T / (2 * mass) * (z + 1.0) / ((z - 1.0) * (z - 1.0)) / hold;
  CHECK(std::abs(both / 2.0 - exact) < 0.02 * std::abs(exact));  // two of all aliases
  CHECK(std::abs(both / 2.0 - exact) < 0.2 * std::abs(1 / (mass * std::pow(2 * 3.141592653589793 * hz, 2)) + exact));
}

}  // namespace evenbeam::identification
