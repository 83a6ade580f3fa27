#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "identification/motion_fit.h"

namespace evenbeam::identification {
namespace {

// 400 kg with 100 kg of carriage on it, 2 m of span, fixed parts 12 kg m off the middle over the span.
MotionFit fit_by_hand() {
  MotionFit fit;
  fit.done = true;
  fit.x = Eigen::VectorXd::Zero(kFixedCount);
  fit.x[kMass0] = 400, fit.x[kCarriage] = 100, fit.x[kMoment0] = 12, fit.x[kImbalance] = 0.05;
  fit.x[kCoulombA] = 60, fit.x[kCoulombB] = 40, fit.x[kViscousA] = 200, fit.x[kViscousB] = 150;
  fit.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  return fit;
}
machine::Machine two_metres() {
  machine::Machine m;
  m.span_m = 2;
  return m;
}

}  // namespace

TEST_CASE("the share by hand: 150 kg half a metre towards B's end take (12 + 37.5)/550 from A") {
  const MotionFit fit = fit_by_hand();
  const double real = 0.5 - 49.5 / 550;
  CHECK(share_at(fit, two_metres(), 0.5, 50, false).value == base::test::near(real));
  // A gives 1.05, B 0.95 of what is commanded: A is asked for less.
  const double a = real / 1.05, b = (1 - real) / 0.95;
  CHECK(share_at(fit, two_metres(), 0.5, 50, true).value == base::test::near(a / (a + b)));
}

TEST_CASE("doubt of the share: slopes by a second way, differences of the share itself") {
  const MotionFit fit = fit_by_hand();
  for (const Unknown j : {kMass0, kCarriage, kMoment0, kImbalance}) {
    CAPTURE(j);
    MotionFit doubtful = fit, more = fit, less = fit;
    const double sd = j == kImbalance ? 1e-3 : 0.1;
    doubtful.covariance(j, j) = sd * sd;
    more.x[j] += sd, less.x[j] -= sd;
    const auto commanded = [&](const MotionFit& f) { return share_at(f, two_metres(), 0.5, 50, true); };
    CHECK(commanded(doubtful).sd ==
          base::test::near(std::abs(commanded(more).value - commanded(less).value) / 2).epsilon(1e-4));
  }
}

TEST_CASE("a difference of friction by hand, both ways") {
  CHECK(friction_difference(fit_by_hand(), 0.2).value == base::test::near(20 + 50 * 0.2));
  CHECK(friction_difference(fit_by_hand(), -0.2).value == base::test::near(-20 - 50 * 0.2));
}

}  // namespace evenbeam::identification
