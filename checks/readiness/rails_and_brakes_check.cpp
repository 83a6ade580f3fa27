// Guide tolerances, brakes and gravity against numbers worked out by other ways, with their sources.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "readiness/gravity.h"
#include "readiness/guide_tolerance.h"

using namespace evenbeam;
using namespace evenbeam::readiness;

namespace {

constexpr double pi = std::numbers::pi;

// Two rails whose distance is off by e, a rigid bridge that floats between them on a spring at each rail: the place
// of the bridge where the energy is least, by bisection of its slope; the force that each carriage then carries.
double carriage_force_n(double stiffness_n_per_m, double error_m) {
  double low = -error_m, high = 2 * error_m;
  for (int i = 0; i < 200; ++i) {
    const double at = (low + high) / 2;
    const double slope = stiffness_n_per_m * at - stiffness_n_per_m * (error_m - at);
    (slope > 0 ? high : low) = at;
  }
  return stiffness_n_per_m * low;
}

machine::Machine by_hand() {
  machine::Machine m;
  m.span_m = 2;
  m.bridge_mass_kg = 150, m.end_mass_a_kg = 25, m.end_mass_b_kg = 25, m.carriage_mass_kg = 100;
  m.carriage_min_y_m = -0.5, m.carriage_max_y_m = 0.5;
  for (machine::Side* s : {&m.a, &m.b}) s->drive = machine::DriveKind::screw, s->lead_m = 0.02;
  return m;
}

}  // namespace

// ISO 14728-1, from memory: balls, L = 100 km (C/P)^3. A tenth of C as side load, and 120 um at C0: common practice,
// no source.
TEST_CASE("parallelism: at the tolerance each carriage carries a tenth of C and lives 100,000 km") {
  for (const double c0_n : {9e3, 27e3, 90e3})
    for (const double c_n : {6e3, 19e3, 60e3}) {
      machine::Guides g{.spacing_m = 0.3, .static_rating_n = c0_n, .dynamic_rating_n = c_n};
      const auto t = parallel_tolerance(g);
      REQUIRE(t);
      const double load_n = carriage_force_n(c0_n / 120e-6, t->error_m);
      CHECK(load_n == base::test::near(c_n / 10).epsilon(1e-9));
      CHECK(100e3 * std::pow(c_n / load_n, 3) == base::test::near(1e8).epsilon(1e-9));  // metres
    }
  // By hand: C 30 kN, C0 48 kN: k = 400 N/um, e = 2 x 3000/400 = 15 um.
  CHECK(parallel_tolerance({.static_rating_n = 48e3, .dynamic_rating_n = 30e3})->error_m ==
        base::test::near(15e-6).epsilon(1e-9));
}

// Guide makers' sheets, from memory: 2e-4 of the rails' distance for heavy preload, 4e-4 for light.
TEST_CASE("height: between what makers give for heavy and for light preload, in proportion to the span") {
  for (const double span_m : {0.5, 1.0, 2.0, 4.0}) {
    CHECK(height_tolerance_m(span_m) >= 2e-4 * span_m * (1 - 1e-12));
    CHECK(height_tolerance_m(span_m) <= 4e-4 * span_m);
  }
  CHECK(height_tolerance_m(1.6) == base::test::near(0.32e-3));  // by hand
}

// 300 kg at 30 degrees: W = 300 x 9.80665 x 0.5 = 1471.0 N. Carriage 100 kg at y = +0.5 m: moment 50 kg m, so B
// carries 1/2 + 50/(300 x 2) = 0.58333: 858.08 N, A 612.92 N. A brake of 1300 N: 1.515 times on B.
TEST_CASE("brake margin by hand calculation") {
  const double tilt = pi / 6;
  std::vector<std::string> missing;
  const SideForces f = gravity_forces(lifted_mass(by_hand(), 0.5, 0, missing), 2, tilt);
  CHECK(missing.empty());
  CHECK(f.a_n + f.b_n == base::test::near(1471.0).epsilon(1e-5));
  CHECK(f.b_n == base::test::near(858.08).epsilon(1e-5));
  CHECK(f.a_n == base::test::near(612.92).epsilon(1e-5));
  CHECK(hold_margin(1300, f.b_n) == base::test::near(1.515).epsilon(1e-3));
  const GravityLoad load = gravity_load(by_hand(), tilt);
  CHECK(load.a_n == base::test::near(858.08).epsilon(1e-5));  // the worst place of A is the other end
  CHECK(load.b_n == base::test::near(858.08).epsilon(1e-5));
  CHECK(load.both_n == base::test::near(1471.0).epsilon(1e-5));
}

// Every mass as a weight at its place; what two supports at the rails carry, by moments about each in turn.
TEST_CASE("gravity: signs and sizes from moments about either rail") {
  const machine::Machine m = by_hand();
  for (const double tilt : {-pi / 2, -0.3, -1e-3, 0.0, 1e-3, 0.3, pi / 2})
    for (const double y_m : {-0.5, -0.1, 0.0, 0.5})
      for (const double payload_kg : {0.0, 40.0}) {
        std::vector<std::string> missing;
        const SideForces f = gravity_forces(lifted_mass(m, y_m, payload_kg, missing), m.span_m, tilt);
        const double g = 9.80665 * std::sin(tilt);
        double about_b = 0, about_a = 0;  // weights times their way to the other rail
        for (const auto& [kg, y] : {std::pair{150.0, 0.0}, {25.0, -1.0}, {25.0, 1.0}, {100.0 + payload_kg, y_m}})
          about_b += kg * g * (1 - y), about_a += kg * g * (y + 1);
        CHECK(f.a_n == base::test::near(about_b / 2).epsilon(1e-12).scale(1));
        CHECK(f.b_n == base::test::near(about_a / 2).epsilon(1e-12).scale(1));
        if (tilt > 0) CHECK(f.a_n > 0);  // the +x end is higher: the bridge is held up along +x
        if (tilt < 0) CHECK(f.a_n < 0);
        if (tilt > 0 && y_m > 0) CHECK(f.b_n > f.a_n);  // the side that the carriage is near carries more
        if (tilt > 0 && y_m < 0) CHECK(f.a_n > f.b_n);
      }
}
