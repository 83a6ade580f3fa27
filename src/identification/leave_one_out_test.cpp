#include "identification/leave_one_out.h"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

#include "base/near_test.h"
#include "identification/fit_validation.h"
#include "math/random.h"

namespace evenbeam::identification {
namespace {

constexpr double kTrueMass = 200, kTrueCoulomb = 30, kTrueStiff = 2e6, kNoise = 2;  // kg, N, N/m, N

struct Captures {
  MotionRows rows;
  MotionFit fit;
  std::vector<recording::Recording> recordings;
};

// Four captures to and fro under one law, but a steady force on the last of them, or another friction.
Captures captures(std::uint64_t seed, double steady_n, double coulomb_more_n) {
  constexpr int kCaptures = 4, kPoints = 120;
  math::Random random(seed);
  Captures out;
  out.rows.bandwidth_hz = 10;
  Regression& p = out.rows.regression;
  p.a = Eigen::MatrixXd::Zero(2 * kCaptures * kPoints, kFixedCount + 1);
  p.y = Eigen::VectorXd::Zero(p.a.rows());
  p.groups = 2 * kCaptures;
  for (int k = 0; k < kCaptures; ++k) {
    recording::Recording r;
    r.name = "capture-" + std::to_string(k + 1) + ".csv";
    out.recordings.push_back(r);
    for (int i = 0; i < kPoints; ++i) {
      const double t = 0.05 * i + 0.3 * k, v = 0.3 * std::sin(2 * t), a = 0.6 * std::cos(2 * t);
      const double way = v > 0 ? 1 : -1, skew = 1e-4 * std::sin(0.7 * t);
      const int at = 2 * (k * kPoints + i);
      p.a(at, kMass0) = a;
      p.a(at, kCoulombA) = p.a(at, kCoulombB) = way;
      p.a(at + 1, kStiffness) = skew;
      p.a(at + 1, kCoulombA) = way / 2, p.a(at + 1, kCoulombB) = -way / 2;
      p.a(at + 1, kFixedCount) = -1;
      const bool last = k + 1 == kCaptures;
      p.y[at] = kTrueMass * a + 2 * kTrueCoulomb * way + (last ? steady_n + coulomb_more_n * way : 0) +
                kNoise * random.normal();
      p.y[at + 1] = kTrueStiff * skew - 5 + kNoise * random.normal();
      for (int equation = 0; equation < 2; ++equation) {
        p.group.push_back(2 * k + equation);
        p.cluster.push_back(100 * k + i / 8);
        out.rows.recording.push_back(k);
        out.rows.time_s.push_back(t);
      }
    }
  }
  out.rows.switch_ons = {"morning"};
  p.prior_mean.assign(kFixedCount + 1, 0.0);
  p.prior_sd.assign(kFixedCount + 1, 1e-9);  // the unknowns that this machine has not
  for (int j : {int(kMass0), int(kStiffness), int(kCoulombA), int(kCoulombB), int(kFixedCount)})
    p.prior_sd[static_cast<size_t>(j)] = std::numeric_limits<double>::infinity();
  const RegressionResult all = solve(p);
  REQUIRE(all.done);
  out.fit.x = all.x;
  for (size_t k = 0; k < kCaptures; ++k)
    out.fit.recordings.push_back(
        {out.recordings[k].name, 0, 0, kPoints, all.group_sd[2 * k], all.group_sd[2 * k + 1]});
  return out;
}

std::vector<HeldOutCapture> judged(const Captures& c) {
  return leave_one_capture_out(c.rows, c.fit, c.recordings, {}, 1.5);
}

}  // namespace

TEST_CASE("captures of one law foretell each other") {
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    CAPTURE(seed);
    const auto held_out = judged(captures(seed, 0, 0));
    REQUIRE(held_out.size() == 4);
    for (const HeldOutCapture& c : held_out) {
      CHECK(times_expected(c) < 1.2);
      CHECK(c.sum_error_n == base::test::near(kNoise).epsilon(0.3));
    }
  }
}

TEST_CASE("a capture with a steady force or another friction does not pass") {
  for (const auto& [steady_n, coulomb_more_n] : {std::pair{15.0, 0.0}, std::pair{0.0, 15.0}}) {
    CAPTURE(steady_n);
    const auto held_out = judged(captures(7, steady_n, coulomb_more_n));
    REQUIRE(held_out.size() == 4);
    CHECK(times_expected(held_out.back()) > most_times_expected);
    base::StationResult result;
    add_validation(result, {}, held_out);
    REQUIRE(result.findings.size() == 1);
    CHECK(result.findings[0].verdict == base::Verdict::attention);
    CHECK(result.findings[0].recording == "capture-4.csv");
  }
}

TEST_CASE("the fit without a capture is that of the regression solved without it") {
  Captures c = captures(3, 0, 0);
  MotionRows three = c.rows;
  const Eigen::Index kept = three.regression.y.size() * 3 / 4;
  three.regression.a.conservativeResize(kept, Eigen::NoChange);
  three.regression.y.conservativeResize(kept);
  three.regression.group.resize(static_cast<size_t>(kept));
  three.regression.cluster.resize(static_cast<size_t>(kept));
  const RegressionResult other = solve(three.regression);
  REQUIRE(other.done);
  double squares = 0;
  for (Eigen::Index i = kept; i < c.rows.regression.y.size(); i += 2)
    squares += std::pow(c.rows.regression.y[i] - c.rows.regression.a.row(i).dot(other.x), 2);
  const HeldOutCapture last = judged(c).back();
  CHECK(last.sum_error_n == base::test::near(std::sqrt(squares / last.rows)).epsilon(1e-3));
}

TEST_CASE("a zero of its own is no contradiction") {
  Captures c = captures(5, 0, 0);
  Regression& p = c.rows.regression;
  p.a.conservativeResize(Eigen::NoChange, kFixedCount + 2);
  p.a.col(kFixedCount + 1).setZero();
  for (Eigen::Index i = p.y.size() * 3 / 4 + 1; i < p.y.size(); i += 2) {
    p.a(i, kFixedCount) = 0, p.a(i, kFixedCount + 1) = -1;
    p.y[i] += 400;
  }
  p.prior_mean.push_back(0);
  p.prior_sd.push_back(std::numeric_limits<double>::infinity());
  const RegressionResult all = solve(p);
  REQUIRE(all.done);
  c.fit.x = all.x;
  for (const HeldOutCapture& held_out : judged(c)) CHECK(times_expected(held_out) < 1.2);
}

}  // namespace evenbeam::identification
