#include "nudge/push_yaw.h"

#include <doctest/doctest.h>

#include <cmath>

#include "math/random.h"

namespace evenbeam::nudge {
namespace {

// A bridge from rest under `force_n` at A, 0.1 s, both sides sliding with the push: the two equations of the header.
struct Bridge {
  double mass_kg = 300, share = 0.5, inertia_kg_m2 = 200, yaw_stiffness_n_m_per_rad = 1e6, span_m = 2;
  double friction_a_n = 40, friction_b_n = 40, damping_n_m_s_per_rad = 500;
};

// The push of one side as its recording would show it: mean displacements, counts of 0.5 um.
Push push_of(const Bridge& b, double force_n, bool on_a, bool swapped) {
  const double moment = (0.5 - b.share) * b.mass_kg * b.span_m, way = force_n > 0 ? 1 : -1;
  const bool really_a = on_a != swapped;
  double x = 0, v = 0, turn = 0, rate = 0, sum_a = 0, sum_b = 0;
  constexpr int steps = 10000;
  constexpr double dt = 1e-5;
  for (int i = 0; i < steps; ++i) {
    const double fa = (really_a ? force_n : 0) - way * b.friction_a_n;
    const double fb = (really_a ? 0 : force_n) - way * b.friction_b_n;
    const double couple =
        b.span_m * (fa - fb) / 2 - b.yaw_stiffness_n_m_per_rad * turn - b.damping_n_m_s_per_rad * rate;
    const double determinant = b.mass_kg * b.inertia_kg_m2 - moment * moment;
    v += dt * (b.inertia_kg_m2 * (fa + fb) + moment * couple) / determinant;
    rate += dt * (moment * (fa + fb) + b.mass_kg * couple) / determinant;
    x += dt * v, turn += dt * rate;
    sum_a += x + turn * b.span_m / 2, sum_b += x - turn * b.span_m / 2;
  }
  static const recording::Recording none{.name = "push.csv"};
  const auto move = [](double mean_m) {
    return SideMove{mean_m, 2 * mean_m, 2 * mean_m, 2e-6, std::abs(mean_m) > 2e-6};
  };
  return {.recording = &none,
          .side = on_a ? PushSide::a : PushSide::b,
          .force_a_n = on_a ? force_n : 0,
          .force_b_n = on_a ? 0 : force_n,
          .a = move(sum_a / steps),
          .b = move(sum_b / steps)};
}

std::vector<Push> pushes_of(const Bridge& b, double force_n, bool swapped) {
  return {push_of(b, force_n, true, swapped), push_of(b, -force_n, true, swapped),
          push_of(b, force_n, false, swapped), push_of(b, -force_n, false, swapped)};
}

Bridge drawn(math::Random& r) {
  Bridge b{.mass_kg = 20 * std::pow(50, r.uniform()), .share = r.uniform(0.25, 0.75), .span_m = r.uniform(0.6, 4)};
  const double moment = (0.5 - b.share) * b.mass_kg * b.span_m;
  b.inertia_kg_m2 = moment * moment / b.mass_kg + b.mass_kg * b.span_m * b.span_m * r.uniform(0.06, 0.2);
  b.yaw_stiffness_n_m_per_rad = b.inertia_kg_m2 * std::pow(6.28 * r.uniform(1, 40), 2);
  b.damping_n_m_s_per_rad = 2 * r.uniform(0.01, 0.5) * std::sqrt(b.inertia_kg_m2 * b.yaw_stiffness_n_m_per_rad);
  b.friction_a_n = b.mass_kg * r.uniform(0.05, 0.5);
  b.friction_b_n = b.friction_a_n * std::pow(4, r.uniform(-1, 1));
  return b;
}

TEST_CASE(
    "law: the pushed end goes ahead on every bridge; swapped, the far one, and that is told wherever yaw shows") {
  math::Random r(11);
  int told = 0;
  for (int k = 0; k < 300; ++k) {
    CAPTURE(k);
    const Bridge b = drawn(r);
    const double force = r.uniform(1.05, 3) * (b.friction_a_n + b.friction_b_n);
    CHECK_FALSE(crossed_by_yaw(pushes_of(b, force, false)));
    told += crossed_by_yaw(pushes_of(b, force, true)).has_value();
  }
  CHECK(told > 200);
}

TEST_CASE("one side alone, a single push each, a wrong sign or no yaw: nothing is said") {
  const Bridge b;
  const std::vector<Push> all = pushes_of(b, 200, true);
  REQUIRE(crossed_by_yaw(all));
  CHECK(crossed_by_yaw(all)->verdict == base::Verdict::stop);
  CHECK_FALSE(crossed_by_yaw({all[0], all[1]}));
  CHECK_FALSE(crossed_by_yaw({all[0], all[2]}));
  std::vector<Push> one_right = all;
  std::swap(one_right[3].a, one_right[3].b);
  CHECK_FALSE(crossed_by_yaw(one_right));
  std::vector<Push> reversed = all;
  reversed[2].b.mean_m = -reversed[2].b.mean_m;
  CHECK_FALSE(crossed_by_yaw(reversed));
  Bridge stiff;
  stiff.yaw_stiffness_n_m_per_rad = 1e11;
  CHECK_FALSE(crossed_by_yaw(pushes_of(stiff, 200, true)));
}

}  // namespace
}  // namespace evenbeam::nudge
