// Laws the generator's gantry must obey whatever its numbers, and the order of its stepping.
#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "machines.h"
#include "random.h"

using namespace generator;

namespace {

TrueGantry without_losses(TrueGantry g) {
  g.yaw_damping_n_m_s_per_rad = g.bending_damping_n_s_per_m = 0;
  for (TrueSide* s : {&g.a, &g.b})
    s->drive_damping_n_s_per_m = s->coulomb_n = s->breakaway_n = s->viscous_n_s_per_m = s->ripple_n = 0;
  return g;
}

GantryState thrown(const TrueGantry& g, Random& r) {
  GantryState s = at_rest(g, 1e-3 * r.normal(), 1e-3 * r.normal());
  for (std::size_t i = 0; i < 5; ++i) s.x[5 + i] = 0.1 * r.normal();
  return s;
}

// Place of A after a push and a coast, friction and ripple on.
double place_after_push(const TrueGantry& g, int steps_a_millisecond) {
  GantryState s = at_rest(g, g.stress_free_skew_m / 2, -g.stress_free_skew_m / 2);
  const Stepper stepper = make_stepper(g, 1e-3 / steps_a_millisecond);
  for (int i = 0; i < 120 * steps_a_millisecond; ++i) step(stepper, s, i < 60 * steps_a_millisecond ? 300 : 0, 0);
  return end_places_m(g, s).a;
}

}  // namespace

TEST_CASE("without losses the energy stays, on random machines") {
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    const TrueGantry g = without_losses(random_truth(seed));
    Random r(seed);
    GantryState s = thrown(g, r);
    const double before = stored_energy_j(g, s);
    const Stepper stepper = make_stepper(g, 50e-6);
    for (int i = 0; i < 4000; ++i) step(stepper, s, 0, 0);
    INFO("seed " << seed);
    // 8000 exact half steps, each rounded: stiff drives lose some digits of the stretch they store.
    CHECK(stored_energy_j(g, s) == doctest::Approx(before).epsilon(1e-7).scale(0));
  }
}

TEST_CASE("with friction and damping a thrown bridge only loses energy, and comes to rest") {
  const TrueGantry g = harbour_cutter().truth;
  Random r(5);
  GantryState s = thrown(g, r);
  const Stepper stepper = make_stepper(g, 25e-6);
  const double first = stored_energy_j(g, s);
  double before = first;
  for (int block = 0; block < 100; ++block) {
    for (int i = 0; i < 400; ++i) step(stepper, s, 0, 0);
    const double now = stored_energy_j(g, s);
    // The ripple is not counted as stored, so it may give back what it holds: amplitude times pitch over pi, a side.
    CHECK(now < before + 2 * g.a.ripple_n * g.a.ripple_pitch_m / std::numbers::pi);
    before = now;
  }
  CHECK(before < first * 0.01);
  CHECK(std::abs(end_speeds_m_per_s(g, s).a) < 1e-5);
}

TEST_CASE("work put in minus work lost to viscous friction and dampers is the energy stored, to the step's order") {
  TrueGantry g = without_losses(harbour_cutter().truth);
  g.a.viscous_n_s_per_m = 60;
  g.b.viscous_n_s_per_m = 90;
  const auto gap = [&](double step_s) {
    GantryState s = at_rest(g, g.stress_free_skew_m / 2, -g.stress_free_skew_m / 2);
    const Stepper stepper = make_stepper(g, step_s);
    double work = 0, lost = 0;
    const auto power = [&] { return s.x[10] * s.x[5] + s.x[11] * s.x[6]; };
    const auto loss = [&] {
      const Ends v = end_speeds_m_per_s(g, s);
      return 60 * v.a * v.a + 90 * v.b * v.b;
    };
    for (int i = 0; i < static_cast<int>(0.1 / step_s); ++i) {
      const double power_before = power(), loss_before = loss();
      step(stepper, s, 300, 100);
      work += (power_before + power()) / 2 * step_s;  // trapezium: its error falls with the square of the step
      lost += (loss_before + loss()) / 2 * step_s;
    }
    return std::abs(work - lost - stored_energy_j(g, s)) / work;
  };
  const double coarse = gap(50e-6), fine = gap(25e-6);
  CHECK(fine < 1e-4);
  CHECK(coarse / fine == doctest::Approx(4).epsilon(0.1).scale(0));
}

TEST_CASE("halving the step divides the error by four, and the step in use is good to a tenth of a count") {
  const TrueGantry g = harbour_cutter().truth;
  const double at_20 = place_after_push(g, 20), at_40 = place_after_push(g, 40), at_80 = place_after_push(g, 80),
               best = place_after_push(g, 640);
  CHECK(std::abs(at_40 - best) < 1e-7);
  CHECK(std::abs(at_80 - best) < std::abs(at_20 - best) / 6);  // 16 where the step is the only error
}

TEST_CASE("on stiff drives and a stiff beam the yaw mode is sqrt(K / (J - S^2/M))") {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    TrueGantry g = random_truth(seed);
    g.a.drive_stiffness_n_per_m = g.b.drive_stiffness_n_per_m = 1e13;
    g.bending_stiffness_n_per_m = 1e13;
    const RigidSums sums = rigid_sums(g);
    const double inertia = sums.inertia_kg_m2 - sums.moment_kg_m * sums.moment_kg_m / sums.mass_kg;
    INFO("seed " << seed);
    const double yaw_hz = std::sqrt(g.yaw_stiffness_n_m_per_rad / inertia) / (2 * std::numbers::pi);
    CHECK(mode_hz(g)[0] == doctest::Approx(yaw_hz).epsilon(1e-4).scale(0));
  }
}

TEST_CASE("signs: a push on A yaws towards plus, and the balanced share does not yaw") {
  TrueGantry g = without_losses(harbour_cutter().truth);
  g.a.force_scale = g.b.force_scale = 1;
  const RigidSums sums = rigid_sums(g);
  const auto skew_after = [&](double a_n, double b_n) {
    GantryState s = at_rest(g, g.stress_free_skew_m / 2, -g.stress_free_skew_m / 2);
    const Stepper stepper = make_stepper(g, 25e-6);
    double mean = 0;
    for (int i = 0; i < 4000; ++i) {
      step(stepper, s, a_n, b_n);
      const Ends e = end_places_m(g, s);
      mean += (e.a - e.b - g.stress_free_skew_m) / 4000;
    }
    return mean;
  };
  const double share = 0.5 - sums.moment_kg_m / (sums.mass_kg * g.span_m);
  CHECK(skew_after(300, 0) > 1e-4);
  CHECK(skew_after(0, 300) < -1e-4);
  CHECK(std::abs(skew_after(300 * share, 300 * (1 - share))) < 1e-6);
}

TEST_CASE("a standing fight bends the guides by d L^2 / K") {
  TrueGantry g = harbour_cutter().truth;
  for (TrueSide* s : {&g.a, &g.b}) s->coulomb_n = s->breakaway_n = s->ripple_n = 0, s->force_scale = 1;
  GantryState s = at_rest(g, 0, 0);
  const Stepper stepper = make_stepper(g, 25e-6);
  for (int i = 0; i < 80000; ++i) step(stepper, s, 50, -50);
  const Ends e = end_places_m(g, s);
  const double expected = g.stress_free_skew_m + 50 * g.span_m * g.span_m / g.yaw_stiffness_n_m_per_rad;
  CHECK(e.a - e.b == doctest::Approx(expected).epsilon(1e-3).scale(0));
}
