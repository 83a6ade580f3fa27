// A drive alone is simulated here in its own way (semi-implicit Euler at 20 kHz, friction with a bristle), jogged by
// a soft position loop, read at 1 kHz in counts; the fit must find what was put in.
#include "identification/one_drive.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "base/near_test.h"

namespace evenbeam::identification {
namespace {

struct TrueDrive {
  double mass_kg = 22, coulomb_n = 40, viscous_n_s_per_m = 60, offset_n = 6, force_scale = 1, count_m = 1e-6;
};

// Reference: `strokes` there and back at `speed`, ramps of `acceleration`, 0.3 s of rest before and after each
// stroke.
struct Jog {
  double distance_m = 0.2, speed_m_per_s = 0.2, acceleration_m_per_s2 = 2;
  int strokes = 2;
};

double reference_at(const Jog& jog, double t) {
  const double ramp = jog.speed_m_per_s / jog.acceleration_m_per_s2;
  const double stroke_s = jog.distance_m / jog.speed_m_per_s + ramp, turn_s = stroke_s + 0.3;
  const int number = std::min(static_cast<int>(t / turn_s), jog.strokes - 1);
  const double u = std::clamp(t - number * turn_s - 0.3, 0.0, stroke_s);
  const double up = std::min(u, ramp), late = std::max(0.0, u - (stroke_s - ramp));
  const double cruise = std::max(0.0, std::min(u, stroke_s - ramp) - ramp);
  double x = 0.5 * jog.acceleration_m_per_s2 * up * up + jog.speed_m_per_s * cruise;
  x += late > 0 ? jog.speed_m_per_s * late - 0.5 * jog.acceleration_m_per_s2 * late * late : 0;
  return number % 2 == 0 ? x : jog.distance_m - x;
}

recording::Recording jogged(const TrueDrive& d, const Jog& jog, DriveSide side, unsigned seed) {
  std::mt19937 random(seed);
  const double step_s = 5e-5, sigma = d.coulomb_n / 8e-6;
  double x = 1e-3 * (random() / 4294967296.0), v = 0, bristle = 0, force = 0, sum = 0;
  const double start = x;
  recording::Recording r;
  r.kind = recording::RunKind::one_side;
  r.name = "alone.csv";
  r.period_s = 1e-3;
  std::vector<double> position, output;
  const double ramp = jog.speed_m_per_s / jog.acceleration_m_per_s2;
  const double until_s = jog.strokes * (jog.distance_m / jog.speed_m_per_s + ramp + 0.3) + 0.4;
  for (int k = 0; k * step_s < until_s; ++k) {
    if (k % 20 == 0) {
      const double seen = d.count_m * std::round(x / d.count_m);
      const double error = start + reference_at(jog, k * step_s) - seen;
      sum += 1e-3 * error;
      force = std::clamp(9e4 * error + 9e5 * sum - 2500 * v, -800.0, 800.0);
      r.time_s.push_back(k * step_s);
      position.push_back(seen);
      output.push_back(force);
    }
    const double rate = v - std::abs(v) * sigma * bristle / d.coulomb_n;
    bristle += step_s * rate;
    const double friction = sigma * bristle + 30 * rate + d.viscous_n_s_per_m * v;
    v += step_s * (d.force_scale * (force - d.offset_n) - friction) / d.mass_kg;
    x += step_s * v;
  }
  (side == DriveSide::a ? r.position_a_m : r.position_b_m) = position;
  (side == DriveSide::a ? r.force_a_n : r.force_b_n) = output;
  return r;
}

machine::Machine papers(double mass_kg) {
  machine::Machine m;
  m.span_m = 1;
  m.a.drive_mass_kg = m.b.drive_mass_kg = mass_kg;
  return m;
}

TrueDrive drawn(unsigned seed) {
  std::mt19937 random(seed);
  const auto between = [&](double low, double high) { return low + (high - low) * (random() / 4294967296.0); };
  TrueDrive d;
  d.mass_kg = between(5, 60);
  d.coulomb_n = between(15, 90);
  d.viscous_n_s_per_m = between(20, 150);
  d.offset_n = between(-10, 10);
  d.count_m = between(0, 1) < 0.5 ? 1e-7 : 1e-5;
  return d;
}

}  // namespace

TEST_CASE("mass, friction and offset of a drive alone are found, and the intervals hold") {
  int within = 0, asked = 0;
  for (unsigned seed = 1; seed <= 12; ++seed) {
    CAPTURE(seed);
    const TrueDrive d = drawn(seed);
    const OneDrive found =
        one_drive({jogged(d, {}, DriveSide::b, seed),
                   jogged(d, {.distance_m = 0.1, .speed_m_per_s = 0.05}, DriveSide::b, seed + 100)},
                  papers(d.mass_kg), DriveSide::b);
    REQUIRE(found.done);
    REQUIRE(found.mass_kg);
    REQUIRE(found.coulomb_n);
    REQUIRE(found.viscous_n_s_per_m);
    CHECK(found.mass_kg->value == base::test::near(d.mass_kg).epsilon(0.01));
    CHECK(found.coulomb_n->value == base::test::near(d.coulomb_n).epsilon(0.05));
    CHECK(found.viscous_n_s_per_m->value == base::test::near(d.viscous_n_s_per_m).epsilon(0.15));
    CHECK(std::abs(found.offset_n->value - d.offset_n) < 0.03 * d.coulomb_n + 0.2);
    const std::pair<math::Estimate, double> pairs[] = {{*found.mass_kg, d.mass_kg},
                                                       {*found.coulomb_n, d.coulomb_n},
                                                       {*found.viscous_n_s_per_m, d.viscous_n_s_per_m},
                                                       {*found.offset_n, d.offset_n}};
    for (const auto& [estimate, truth] : pairs) {
      within += estimate.lower <= truth && truth <= estimate.upper;
      ++asked;
    }
  }
  CAPTURE(within);
  CHECK(within >= 0.85 * asked);
}

TEST_CASE("the force scale is the papers' mass over the fitted one, and two drives alone tell their gain ratio") {
  TrueDrive a, b;
  b.force_scale = 0.95;
  const auto list = std::vector{jogged(a, {}, DriveSide::a, 1), jogged(b, {}, DriveSide::b, 2)};
  const OneDrive on_a = one_drive(list, papers(22), DriveSide::a), on_b = one_drive(list, papers(22), DriveSide::b);
  REQUIRE(on_a.force_scale);
  REQUIRE(on_b.force_scale);
  CHECK(on_a.force_scale->value == base::test::near(1).epsilon(0.01));
  CHECK(on_b.force_scale->value == base::test::near(0.95).epsilon(0.01));
  const auto ratio = gain_ratio_alone(on_a, on_b);
  REQUIRE(ratio);
  CHECK(ratio->value == base::test::near(0.95).epsilon(0.01));
  CHECK(ratio->lower < 0.95);
  CHECK(ratio->upper > 0.95);
}

TEST_CASE("a jog one way leaves friction and offset untold and says which run would tell them") {
  recording::Recording r = jogged({}, {.strokes = 1}, DriveSide::a, 3);
  for (auto* column : {&r.time_s, &r.position_a_m, &r.force_a_n}) column->resize(1350);  // before it comes to rest
  const OneDrive found = one_drive({r}, papers(22), DriveSide::a);
  REQUIRE(found.done);
  CHECK(found.mass_kg);
  CHECK_FALSE(found.coulomb_n);
  CHECK_FALSE(found.untold.empty());
}

TEST_CASE("without an output, or with the other side moving, there is no answer and a reason") {
  recording::Recording r = jogged({}, {}, DriveSide::a, 4);
  CHECK_FALSE(one_drive({r}, papers(22), DriveSide::b).done);
  r.force_a_n.clear();
  const OneDrive none = one_drive({r}, papers(22), DriveSide::a);
  CHECK_FALSE(none.done);
  CHECK_FALSE(none.reason.empty());
  CHECK_FALSE(none.mass_kg);
}

}  // namespace evenbeam::identification
