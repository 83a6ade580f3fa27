#include "identification/grey_box_model.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/linear_response.h"
#include "identification/grey_sample_test.h"

namespace evenbeam::identification {
namespace {

using test::sample;

}  // namespace

TEST_CASE("parameters to plant and back") {
  const dynamics::Plant p = grey_plant(sample(), grey_parameters(sample()));
  CHECK(p.a.motor_mass_kg == base::test::near(40));
  CHECK(p.b.force_scale == base::test::near(0.98));
  CHECK(p.bending_end_shape == base::test::near(-0.8));
  CHECK(p.fixed_moment_kg_m == base::test::near(4));
}

TEST_CASE("the response is the virtual gantry's own, reached a second way") {
  const std::vector<double> hz{3, 17, 60, 71, 150, 400};
  const auto ours = grey_response(sample(), grey_parameters(sample()), kGreyCount, hz, false);
  for (size_t i = 0; i < hz.size(); ++i) {
    const auto theirs = dynamics::linear_response(sample(), 0, {2 * 3.141592653589793 * hz[i]}).front();
    const double size = std::abs(theirs.aa) + std::abs(theirs.ab);
    CHECK(std::abs(ours.g[i][0] - theirs.aa) < 1e-10 * size);
    CHECK(std::abs(ours.g[i][1] - theirs.ab) < 1e-10 * size);
    CHECK(std::abs(ours.g[i][2] - theirs.ba) < 1e-10 * size);
    CHECK(std::abs(ours.g[i][3] - theirs.bb) < 1e-10 * size);
  }
}

TEST_CASE("derivatives agree with differences of the response") {
  const std::vector<double> hz{4, 30, 68, 90, 220};
  const Eigen::VectorXd x = grey_parameters(sample());
  const auto at = grey_response(sample(), x, kGreyCount, hz, true);
  for (int j = 0; j < kGreyCount; ++j) {
    CAPTURE(grey_name(j));
    const double h = 1e-4;
    Eigen::VectorXd up = x, down = x;
    up[j] += h;
    down[j] -= h;
    const auto a = grey_response(sample(), up, kGreyCount, hz, false),
               b = grey_response(sample(), down, kGreyCount, hz, false);
    for (size_t i = 0; i < hz.size(); ++i)
      for (size_t k = 0; k < 4; ++k) {
        const Complex difference = (a.g[i][k] - b.g[i][k]) / (2 * h);
        const double scale = std::abs(difference) + 1e-4 * std::abs(at.g[i][0]);
        CHECK(std::abs(at.d[i][static_cast<size_t>(j)][k] - difference) < 2e-5 * scale);
      }
  }
}

}  // namespace evenbeam::identification
