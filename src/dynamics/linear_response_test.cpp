#include "dynamics/linear_response.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"
#include "dynamics/modes.h"
#include "dynamics/sample_plant_test.h"

using namespace evenbeam;
using dynamics::test::full_plant;
using Complex = std::complex<double>;

namespace {

double difference(const dynamics::SideResponse& p, const dynamics::SideResponse& q) {
  return std::max({std::abs(p.aa - q.aa), std::abs(p.ab - q.ab), std::abs(p.ba - q.ba), std::abs(p.bb - q.bb)});
}
double size(const dynamics::SideResponse& p) { return difference(p, {}); }

}  // namespace

TEST_CASE("rigid drives: the mass matrix is M, S, J of the plant") {
  const auto p = dynamics::test::rigid_plant();
  const auto m = dynamics::motion(p);
  REQUIRE(m.at.count == 2);
  CHECK(m.mass(0, 0) == base::test::near(dynamics::total_mass_kg(p)).epsilon(1e-14));
  CHECK(m.mass(0, 1) == base::test::near(-dynamics::first_moment_kg_m(p)).epsilon(1e-13));
  CHECK(m.mass(1, 1) == base::test::near(dynamics::yaw_inertia_kg_m2(p)).epsilon(1e-14));
  const auto found = dynamics::modes(p);
  REQUIRE(found.size() == 1);
  const double s = dynamics::first_moment_kg_m(p);
  const double inertia = dynamics::yaw_inertia_kg_m2(p) - s * s / dynamics::total_mass_kg(p);
  CHECK(found[0].hz == base::test::near(std::sqrt(p.yaw_stiffness_n_m_per_rad / inertia) / (2 * M_PI)).epsilon(1e-4));
  CHECK(found[0].name == "yaw");
  CHECK(found[0].end_a * found[0].end_b < 0);
}

TEST_CASE("rigid drives: response by hand (M x'' - S th'' = f_m, J th'' - S x'' + C th' + K th = L d)") {
  auto p = dynamics::test::rigid_plant();
  p.a.viscous_n_s_per_m = p.b.viscous_n_s_per_m = 0;
  const double mass = dynamics::total_mass_kg(p), s1 = dynamics::first_moment_kg_m(p), w = 2 * M_PI * 23;
  const Complex jw(0, w);
  const Complex yaw =
      jw * jw * dynamics::yaw_inertia_kg_m2(p) + jw * p.yaw_damping_n_m_s_per_rad + p.yaw_stiffness_n_m_per_rad;
  // Force on A alone, real newton g: f_m = g, L d = L g/2.
  const double g = p.a.force_scale, l = p.span_m;
  const Complex det = mass * jw * jw * yaw - jw * jw * s1 * jw * jw * s1;
  const Complex x = (yaw * g + jw * jw * s1 * l * g / 2.0) / det;
  const Complex theta = (mass * jw * jw * l * g / 2.0 + jw * jw * s1 * g) / det;
  const Complex path = std::exp(-jw * p.delay_s) / (1.0 + jw * p.current_lag_s);
  const auto r = dynamics::response(dynamics::response_model(p, 0), w);
  CHECK(std::abs(r.aa - path * (x + theta * l / 2.0)) < 1e-12 * std::abs(r.aa));
  CHECK(std::abs(r.ba - path * (x - theta * l / 2.0)) < 1e-12 * std::abs(r.aa));
}

TEST_CASE("sampled plant = sum of all aliases of the continuous response with hold, delay and lag") {
  const double period = 1e-4;
  for (double delay : {0.0, 0.4e-4, 1e-4, 2.3e-4}) {
    auto p = full_plant();
    p.delay_s = delay;
    const auto discrete = dynamics::sampled(p, period);
    const auto model = dynamics::response_model(p, period);
    for (double hz : {4.0, 37.0, 410.0, 3900.0}) {
      const double w = 2 * M_PI * hz, ws = 2 * M_PI / period;
      dynamics::SideResponse sum = dynamics::response(model, w);
      for (int k = 1; k <= 400; ++k) {
        for (double line : {w + k * ws, w - k * ws}) {
          auto r = dynamics::response(model, std::abs(line));
          if (line < 0) r = {std::conj(r.aa), std::conj(r.ab), std::conj(r.ba), std::conj(r.bb)};
          sum.aa += r.aa, sum.ab += r.ab, sum.ba += r.ba, sum.bb += r.bb;
        }
      }
      const auto g = math::response(discrete, w);
      CAPTURE(delay);
      CAPTURE(hz);
      CHECK(difference({g(0, 0), g(0, 1), g(1, 0), g(1, 1)}, sum) < 2e-7 * size(sum));
    }
  }
}

TEST_CASE("mirror: swapping sides and y swaps the response (200 random plants)") {
  for (int seed = 1; seed <= 200; ++seed) {
    std::mt19937_64 draw(seed);
    const auto p = dynamics::test::random_plant(draw);
    CAPTURE(seed);
    REQUIRE(dynamics::plant_troubles(p).empty());
    const auto r = dynamics::response(dynamics::response_model(p, 1e-4), 150);
    const auto m = dynamics::response(dynamics::response_model(dynamics::test::mirrored(p), 1e-4), 150);
    CHECK(difference(r, {m.bb, m.ba, m.ab, m.aa}) < 1e-10 * size(r));
  }
}

TEST_CASE("reciprocity: with equal scales and feedback where the motors push, G_ab = G_ba") {
  auto p = full_plant();
  p.feedback_on_motor = true;
  p.a.force_scale = p.b.force_scale = 1;
  const auto r = dynamics::response(dynamics::response_model(p, 0), 300);
  CHECK(std::abs(r.ab - r.ba) < 1e-12 * std::abs(r.aa));
}

TEST_CASE("a very stiff drive is a rigid one") {
  auto stiff = full_plant();
  stiff.a.drive_stiffness_n_per_m = stiff.b.drive_stiffness_n_per_m = 1e13;
  auto rigid = full_plant();
  rigid.a.drive_stiffness_n_per_m = rigid.b.drive_stiffness_n_per_m = 0;
  const double w = 2 * M_PI * 60;
  const auto p = dynamics::response(dynamics::response_model(stiff, 0), w);
  const auto q = dynamics::response(dynamics::response_model(rigid, 0), w);
  CHECK(difference(p, q) < 1e-5 * size(q));
}

TEST_CASE("full plant: six coordinates, five modes of damping between 0 and 1, an undamped plant has none") {
  auto p = full_plant();
  const auto found = dynamics::modes(p);
  REQUIRE(found.size() == 5);
  for (const auto& mode : found) {
    CHECK(mode.damping > 0);
    CHECK(mode.damping < 1);
  }
  p.a.drive_damping_n_s_per_m = p.b.drive_damping_n_s_per_m = 0;
  p.a.viscous_n_s_per_m = p.b.viscous_n_s_per_m = 0;
  p.yaw_damping_n_m_s_per_rad = p.bending_damping = p.carriage_damping_n_s_per_m = 0;
  for (const auto& mode : dynamics::modes(p)) CHECK(std::abs(mode.damping) < 1e-9);
}

TEST_CASE("a plant that cannot be is named in words") {
  auto p = full_plant();
  p.span_m = 0, p.a.force_scale = 0, p.bending_mass_kg = 0;
  const auto troubles = dynamics::plant_troubles(p);
  CHECK(troubles.size() >= 3);
  CHECK(dynamics::plant_troubles(full_plant()).empty());
}
