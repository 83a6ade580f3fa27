#include "tuning/sensitivity.h"

#include <doctest/doctest.h>

#include <Eigen/LU>
#include <Eigen/SVD>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "servo/law_response.h"

namespace evenbeam::tuning {
namespace {

machine::Settings loops() {
  machine::Settings s{.period_s = 1e-4, .share = 0.46, .peak_force_a_n = 1500, .peak_force_b_n = 2800};
  s.mean = {10, 9000, 0.15, 800, {{140, 0.3, 0.9}}};
  s.skew = {10, 2000, 0.15, 800, {}};
  return s;
}

}  // namespace

// A second way: both inverses formed, their singular values by a general solver.
TEST_CASE("the sensitivity at one frequency is the larger singular value of both sides, the input in parts of peak") {
  std::mt19937_64 draw(5);
  bool input_seen = false, output_seen = false;
  for (int k = 0; k < 40; ++k) {
    const dynamics::Plant plant = dynamics::test::random_plant(draw);
    const machine::Settings s = loops();
    const auto model = dynamics::response_model(plant, s.period_s);
    const servo::LoopLaw law = servo::prepare(s);
    for (const double hz : {2.0, 15.0, 60.0, 250.0, 1500.0}) {
      const double w = 2 * std::numbers::pi * hz;
      const auto r = dynamics::response(model, w);
      const auto u = servo::response(law, w);
      Eigen::Matrix2cd g, c, peaks = Eigen::Matrix2cd::Zero();
      g << r.aa, r.ab, r.ba, r.bb;
      c << u.aa, u.ab, u.ba, u.bb;
      peaks(0, 0) = 1500, peaks(1, 1) = 2800;
      const Eigen::Matrix2cd one = Eigen::Matrix2cd::Identity();
      const auto largest = [](const Eigen::Matrix2cd& m) {
        return Eigen::JacobiSVD<Eigen::Matrix2cd>(m).singularValues()(0);
      };
      const double output = largest((one + g * c).inverse()),
                   input = largest(peaks.inverse() * (one + c * g).inverse() * peaks);
      CHECK(sensitivity_at(plant, s, hz) == base::test::near(std::max(output, input)).epsilon(1e-9));
      (input > output ? input_seen : output_seen) = true;
      const PeakSensitivity told = peak_sensitivity({hz}, {{r.aa, r.ab, r.ba, r.bb}}, s);
      CHECK(told.peak == base::test::near(std::max(output, input)).epsilon(1e-9));
    }
  }
  CHECK(input_seen);
  CHECK(output_seen);
}

TEST_CASE(
    "the refined peak: no line of a grid twenty times as fine is above it, near it one is, and it is where told") {
  std::mt19937_64 draw(9);
  for (int k = 0; k < 12; ++k) {
    CAPTURE(k);
    dynamics::Plant plant = dynamics::test::random_plant(draw);
    plant.bending_damping = 0.004;
    const machine::Settings s = loops();
    const PeakSensitivity found = peak_sensitivity(plant, s);
    CHECK(found.peak == base::test::near(sensitivity_at(plant, s, found.at_hz)).epsilon(1e-6));
    const auto model = dynamics::response_model(plant, s.period_s);
    double near = 0;  // about it, as fine as a hundred-thousandth
    for (int i = -200; i <= 200; ++i) near = std::max(near, sensitivity_at(model, s, found.at_hz * (1 + 1e-5 * i)));
    CHECK(found.peak > near * (1 - 1e-4));
    double grid = 0;
    for (int i = 0; i <= 360; ++i)
      grid = std::max(grid, sensitivity_at(model, s, 0.2 * std::pow(0.49e4 / 0.2, i / 360.0)));
    CHECK(found.peak >= grid * (1 - 1e-9));
  }
}

}  // namespace evenbeam::tuning
