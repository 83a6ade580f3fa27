// Beams and the two-mass drive against textbook values.
#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/beam.h"
#include "dynamics/linear_response.h"
#include "dynamics/modes.h"

using namespace evenbeam;
using dynamics::BeamEnds;

TEST_CASE("roots of the frequency equations") {
  // Thomson, Theory of Vibration with Applications, App. D and Table 9.5-1 (4 decimals); Blevins, Table 8-1 (from
  // memory).
  const auto near = [](BeamEnds ends, int n, double expected) {
    CHECK(std::abs(dynamics::beam_root(ends, n) - expected) < 1e-6);
  };
  near(BeamEnds::clamped_free, 1, 1.8751041), near(BeamEnds::clamped_free, 2, 4.6940911);
  near(BeamEnds::clamped_free, 3, 7.8547574), near(BeamEnds::clamped_free, 4, 10.9955407);
  for (auto ends : {BeamEnds::free_free, BeamEnds::clamped_clamped}) {
    near(ends, 1, 4.7300407), near(ends, 2, 7.8532046), near(ends, 3, 10.9956078), near(ends, 4, 14.1371655);
  }
  for (int n = 1; n <= 5; ++n) near(BeamEnds::pinned_pinned, n, n * M_PI);
  near(BeamEnds::clamped_pinned, 1, 3.9266023), near(BeamEnds::clamped_pinned, 2, 7.0685827);
  near(BeamEnds::clamped_pinned, 3, 10.2101761);
}

TEST_CASE("steel beam 1.2 m, 40 x 60 mm, E 210 GPa, 7850 kg/m3") {
  // Closed form, worked out by hand from the roots above.
  const double ei = 210e9 * 0.04 * 0.06 * 0.06 * 0.06 / 12, per_length = 7850 * 0.04 * 0.06;
  const auto hz = [&](BeamEnds ends, int n) {
    return dynamics::beam_frequency_hz(dynamics::beam_root(ends, n), ei, per_length, 1.2);
  };
  CHECK(hz(BeamEnds::free_free, 1) == base::test::near(221.525).epsilon(1e-5));
  CHECK(hz(BeamEnds::free_free, 2) == base::test::near(610.642).epsilon(1e-5));
  CHECK(hz(BeamEnds::pinned_pinned, 1) == base::test::near(97.7221).epsilon(1e-5));
  CHECK(hz(BeamEnds::pinned_pinned, 2) == base::test::near(390.888).epsilon(1e-5));
  CHECK(hz(BeamEnds::clamped_free, 1) == base::test::near(34.8132).epsilon(1e-5));
  CHECK(hz(BeamEnds::clamped_free, 2) == base::test::near(218.171).epsilon(1e-5));
  // The bridge's own mode with no mass at its ends is the free beam; with heavy ends it tends to the pinned one.
  CHECK(dynamics::bridge_bending(ei, per_length * 1.2, 1.2, 0).hz == base::test::near(221.525).epsilon(1e-5));
  CHECK(dynamics::bridge_bending(ei, per_length * 1.2, 1.2, 1e9).hz == base::test::near(97.7221).epsilon(1e-5));
}

TEST_CASE("simply supported beam with a mass at mid-span, Rayleigh") {
  // Rayleigh's static shape, mass factor 17/35 (from memory), scaled by sqrt(m_beam L^3/EI).
  const double ratios[] = {0, .1, .5, 1, 2, 5}, expected[] = {9.94100, 9.05269, 6.97823, 5.68399, 4.39435, 2.95804};
  for (int i = 0; i < 6; ++i)
    CHECK(dynamics::rayleigh_centre_mass_rad_per_s(1, 1, 1, ratios[i]) ==
          base::test::near(expected[i]).epsilon(2e-6));
}

namespace {

// Two motors with half the mass each, two springs with half the stiffness each, an equal bridge: the mean moves as a
// two-mass drive.
dynamics::Plant two_mass(double motor_kg, double load_kg, double stiffness) {
  dynamics::Plant p;
  p.span_m = 1;
  p.fixed_mass_kg = load_kg, p.fixed_inertia_kg_m2 = load_kg / 4;
  p.a = {motor_kg / 2, stiffness / 2, 0, 0, 0, 1};
  p.b = p.a;
  p.feedback_on_motor = true;
  return p;
}

double together_hz(const dynamics::Plant& p) {
  for (const auto& mode : dynamics::modes(p))
    if (mode.motor_a * mode.motor_b > 0) return mode.hz;
  return 0;
}

// Motor place from the sum of both forces: zero at the antiresonance, undamped.
double response_at(const dynamics::Plant& p, double hz) {
  const auto r = dynamics::response(dynamics::response_model(p, 0), 2 * M_PI * hz);
  return (r.aa + r.ab).real();
}

}  // namespace

TEST_CASE("two-mass drive: resonance and antiresonance at the motor") {
  // fa = sqrt(c/JL)/2 pi, fr = sqrt(c (1/JM + 1/JL))/2 pi (from memory). 2e-3 and 6e-3 kg m2, 1200 N m/rad; 12, 30
  // kg, 4e6 N/m.
  const double cases[][5] = {{2e-3, 6e-3, 1200, 71.1763, 142.3525}, {12, 30, 4e6, 58.1152, 108.7235}};
  for (const auto& c : cases) {
    const auto p = two_mass(c[0], c[1], c[2]);
    CHECK(together_hz(p) == base::test::near(c[4]).epsilon(1e-6));
    double low = 0.7 * c[3], high = 0.5 * (c[3] + c[4]);
    const bool negative = response_at(p, low) < 0;
    REQUIRE((response_at(p, high) < 0) != negative);
    for (int i = 0; i < 100; ++i) {
      const double middle = 0.5 * (low + high);
      ((response_at(p, middle) < 0) == negative ? low : high) = middle;
    }
    CHECK(low == base::test::near(c[3]).epsilon(1e-6));
  }
}

TEST_CASE("second bending, left out of the plant: its skew a newton of fight against that of the guides") {
  // Free uniform beam, ends 1: modal mass m/4 (from memory; Blevins). Opposed forces d at the ends: s = 4 d/(m/4
  // w^2); the guides give s = L^2 d/K. The field's machine: 120 kg, 2 m, 4e6 N m/rad; EI 6e6 N m2 invented.
  const double hz = dynamics::beam_frequency_hz(dynamics::beam_root(BeamEnds::free_free, 2), 6e6, 60, 2);
  CHECK(hz == base::test::near(776).epsilon(0.01));
  const double bending = 4 / (120 / 4.0 * std::pow(2 * M_PI * hz, 2)), guides = 4 / 4e6;
  CHECK(bending / guides < 0.006);
}
