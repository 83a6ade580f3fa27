#include "identification/motion_instruments.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <random>

#include "base/near_test.h"

namespace evenbeam::identification {
namespace {

constexpr double kStiff = 2e6, kMoment = 15, kMass = 300, kLoops = 9e6;  // N/m, kg, kg, N/m

// A bridge to and fro under loops that hold the skew five times as hard as the guides; a disturbance in the fight
// that is on no record, as large as what the reference asks for.
MotionRows rows_with_disturbance(double disturbance_n) {
  constexpr int kPoints = 600;
  MotionRows out{.bandwidth_hz = 10};
  Regression& p = out.regression;
  p.a = Eigen::MatrixXd::Zero(2 * kPoints, kFixedCount);
  p.y = Eigen::VectorXd::Zero(2 * kPoints);
  p.groups = 2;
  std::mt19937 draw(5);
  std::normal_distribution<double> normal;
  double w = 0;
  for (int k = 0; k < kPoints; ++k) {
    const double t = 0.025 * k, v = 0.3 * std::sin(t) + 0.2 * std::sin(2.3 * t),
                 a = 0.3 * std::cos(t) + 0.46 * std::cos(2.3 * t);
    w = 0.7 * w + disturbance_n * std::sqrt(1 - 0.49) * normal(draw);
    const double asked_n = 60 * v - 40 * a;
    // d = asked - loops s  and  d = stiff s - moment a + w
    const double s = (asked_n + kMoment * a - w) / (kStiff + kLoops), d = asked_n - kLoops * s;
    const int i = 2 * k;
    p.a(i, kMass0) = a;
    p.a(i, kViscousA) = p.a(i, kViscousB) = v;
    p.y[i] = kMass * a + normal(draw);
    p.a(i + 1, kMoment0) = -a;
    p.a(i + 1, kStiffness) = s;
    p.y[i + 1] = d;
    for (int equation = 0; equation < 2; ++equation) {
      p.group.push_back(equation);
      p.cluster.push_back(k / 16);
      out.recording.push_back(0);
      out.time_s.push_back(t);
    }
  }
  p.prior_mean.assign(kFixedCount, 0.0);
  p.prior_sd.assign(kFixedCount, 1e-9);  // the unknowns that this machine has not
  for (Unknown j : {kMass0, kMoment0, kStiffness}) p.prior_sd[j] = std::numeric_limits<double>::infinity();
  return out;
}

TEST_CASE("loops that answer a disturbance pass for the guides in least squares, not with instruments") {
  const MotionRows rows = rows_with_disturbance(8);
  const RegressionResult ordinary = solve(rows.regression);
  REQUIRE(ordinary.done);
  const double off = ordinary.x[kStiffness] - kStiff;
  CHECK(off < -0.2 * kStiff);
  CHECK(std::abs(off) > 5 * std::sqrt(ordinary.covariance(kStiffness, kStiffness)));

  const InstrumentResult other = solve_by_instruments(rows, ordinary);
  REQUIRE(other.done);
  const double sd = std::sqrt(other.covariance(kStiffness, kStiffness));
  CHECK(std::abs(other.x[kStiffness] - kStiff) < 2.5 * sd);
  CHECK(sd < 0.3 * kStiff);
  CHECK(other.x[kMass0] == base::test::near(kMass).epsilon(0.01));
}

TEST_CASE("without a disturbance both ways give the same") {
  const MotionRows rows = rows_with_disturbance(0);
  const RegressionResult ordinary = solve(rows.regression);
  const InstrumentResult other = solve_by_instruments(rows, ordinary);
  REQUIRE(other.done);
  CHECK(ordinary.x[kStiffness] == base::test::near(kStiff).epsilon(1e-6));
  CHECK(other.x[kStiffness] == base::test::near(kStiff).epsilon(1e-6));
}

}  // namespace
}  // namespace evenbeam::identification
