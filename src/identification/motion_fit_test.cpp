#include "identification/motion_fit.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::identification {
namespace {

// One machine whose law is that of motion_fit.h to the last term.
constexpr double kSpan = 2, kMass = 300, kCarriage_kg = 60, kMoment = 12, kInertia = 140, kStiff = 4e6, kDamp = 2500,
                 kFree = 30e-6, kCoulombA_n = 60, kCoulombB_n = 45, kViscousA_n = 120, kViscousB_n = 180,
                 kUneven = 0.02;

// Swings at frequencies that no two parts share; reversals in between. Forces follow from the two equations, which e
// ties to each other: F = (f - 2 e d0)/(1 - e^2), d = d0 - e F/2.
recording::Recording swung(const std::string& name, double carriage_y_m, double noise_n, math::Random& random) {
  recording::Recording r{.name = name, .kind = recording::RunKind::test_move, .period_s = 1e-3};
  r.carriage_y_m = carriage_y_m, r.payload_kg = 0.0, r.switch_on = "one";
  r.count_a_m = r.count_b_m = 1e-9;
  const double w = 2 * std::numbers::pi, y = carriage_y_m;
  const struct {
    double size, hz, phase;
  } mean[] = {{0.2, 0.4, 0}, {0.02, 1.3, 0.5}, {2e-3, 3.1, 1}},
    skew[] = {{1e-4, 0.9, 0.2}, {5e-5, 2.3, 1}, {1e-5, 4.1, 2}};
  for (int i = 0; i < 10000; ++i) {
    const double t = 1e-3 * i;
    double m[3] = {}, s[3] = {};
    for (const auto& p : mean) {
      const double u = w * p.hz, at = u * t + p.phase;
      m[0] += p.size * std::sin(at), m[1] += p.size * u * std::cos(at), m[2] -= p.size * u * u * std::sin(at);
    }
    for (const auto& p : skew) {
      const double u = w * p.hz, at = u * t + p.phase;
      s[0] += p.size * std::sin(at), s[1] += p.size * u * std::cos(at), s[2] -= p.size * u * u * std::sin(at);
    }
    const double v_a = m[1] + s[1] / 2, v_b = m[1] - s[1] / 2;
    const double rub_a = kCoulombA_n * (v_a > 0 ? 1 : -1) + kViscousA_n * v_a,
                 rub_b = kCoulombB_n * (v_b > 0 ? 1 : -1) + kViscousB_n * v_b;
    const double carried = kCarriage_kg * (m[2] - y / kSpan * s[2]), square = kSpan * kSpan;
    const double f = kMass * m[2] + carried - kMoment / kSpan * s[2] + rub_a + rub_b;
    const double d0 = -kMoment / kSpan * m[2] - y / kSpan * carried + kInertia / square * s[2] +
                      kDamp / square * s[1] + kStiff / square * (s[0] - kFree) + (rub_a - rub_b) / 2;
    const double sum = (f - 2 * kUneven * d0) / (1 - kUneven * kUneven), d = d0 - kUneven * sum / 2;
    r.time_s.push_back(t);
    r.position_a_m.push_back(m[0] + s[0] / 2), r.position_b_m.push_back(m[0] - s[0] / 2);
    r.force_a_n.push_back(sum / 2 + d + noise_n * random.normal());
    r.force_b_n.push_back(sum / 2 - d + noise_n * random.normal());
  }
  return r;
}

machine::Machine papers(double carriage_kg) {
  machine::Machine m;
  m.span_m = kSpan, m.bridge_mass_kg = 200, m.end_mass_a_kg = m.end_mass_b_kg = 20;
  m.a.drive_mass_kg = m.b.drive_mass_kg = 30;
  m.a.peak_force_n = m.b.peak_force_n = 2000;
  m.carriage_mass_kg = carriage_kg;
  return m;
}

void within(const math::Estimate& e, double truth, double part) {
  CHECK(e.value == base::test::near(truth).epsilon(part));
  CHECK(std::abs(e.value - truth) < 4 * e.sd);
}

}  // namespace

TEST_CASE("a machine that keeps the law: every number of it comes back, at the widest windows but one") {
  math::Random random(3);
  const std::vector<recording::Recording> all{swung("left", -0.6, 1, random), swung("right", 0.7, 1, random)};
  const MotionFit fit = fit_motion(all, papers(55));
  REQUIRE(fit.done);
  // All windows agree where the law holds, so that nothing stops the way to the widest, 70 Hz.
  CHECK(fit.bandwidth_hz == 45);
  const double y = fit.carriage_y_m;
  within(fit.mass_kg, kMass + kCarriage_kg, 2e-3);
  within(fit.carriage_mass_kg, kCarriage_kg, 0.02);
  within(fit.moment_kg_m, kMoment + kCarriage_kg * y, 0.01);
  within(fit.inertia_kg_m2, kInertia + kCarriage_kg * y * y, 0.1);
  within(fit.yaw_stiffness_n_m_per_rad, kStiff, 0.01);
  within(fit.yaw_damping_n_m_s_per_rad, kDamp, 0.2);
  within(fit.coulomb_a_n, kCoulombA_n, 0.02);
  within(fit.coulomb_b_n, kCoulombB_n, 0.02);
  within(fit.viscous_a_n_s_per_m, kViscousA_n, 0.03);
  within(fit.viscous_b_n_s_per_m, kViscousB_n, 0.03);
  within(fit.force_imbalance, kUneven, 0.05);
  within(fit.gain_ratio_b_to_a, 0.98 / 1.02, 0.01);
  REQUIRE(fit.switch_ons.size() == 1);
  within(fit.switch_ons[0].stress_free_skew_m, kFree, 0.05);
  CHECK(fit.recordings.size() == 2);
  CHECK(fit.recordings[0].residual_mean_n < 2);
}

TEST_CASE("a window that comes out differently ends the widening: a drive that gives way from 12 Hz on") {
  math::Random random(4);
  std::vector<recording::Recording> all{swung("left", -0.6, 1, random), swung("right", 0.7, 1, random)};
  // A shake at 18 Hz whose force is that of a third of the mass: narrow windows do not see it.
  const double w = 2 * std::numbers::pi * 18;
  for (auto& r : all)
    for (std::size_t i = 0; i < r.time_s.size(); ++i) {
      const double x = 2e-4 * std::sin(w * r.time_s[i]);
      r.position_a_m[i] += x, r.position_b_m[i] += x;
      r.force_a_n[i] -= 60 * w * w * x, r.force_b_n[i] -= 60 * w * w * x;
    }
  const MotionFit fit = fit_motion(all, papers(55));
  REQUIRE(fit.done);
  CHECK(fit.bandwidth_hz <= 20);
  CHECK(fit.mass_kg.value == base::test::near(kMass + kCarriage_kg).epsilon(0.02));
}

}  // namespace evenbeam::identification
