#include "tuning/share_plan.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"

namespace evenbeam::tuning {

TEST_CASE("the share of a place: straight between places, held beyond the ends, constant where it can't follow") {
  SharePlan plan{.follows = true, .constant = 0.51, .places = {{-1, 0.56, 0.58}, {0, 0.5, 0.5}, {1, 0.46, 0.44}}};
  CHECK(share_at_place(plan, -0.5) == base::test::near(0.53));
  CHECK(share_at_place(plan, 0.25) == base::test::near(0.49));
  CHECK(share_at_place(plan, -3) == 0.56);
  CHECK(share_at_place(plan, 3) == 0.46);
  plan.follows = false;
  CHECK(share_at_place(plan, -0.5) == 0.51);
}

// Put back: with the share of a place, real forces on both sides in the proportion sigma g_A to (1 - sigma) g_B, all
// that moves is pushed along its own centre of mass, y = S/M, and nothing turns.
TEST_CASE("the share of each place pushes all that moves at its centre of mass, empty and full") {
  identification::Identified id;
  dynamics::Plant& p = id.plant;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_moment_kg_m = 5, p.fixed_inertia_kg_m2 = 80, p.carriage_mass_kg = 60;
  p.a.motor_mass_kg = 30, p.b.motor_mass_kg = 40, p.a.force_scale = 1.1, p.b.force_scale = 0.95;
  machine::Machine m;
  m.span_m = 2, m.carriage_min_y_m = -0.6, m.carriage_max_y_m = 0.8, m.payload_min_kg = 5, m.payload_max_kg = 25;
  const SharePlan plan = share_plan(id, m);
  CHECK(plan.follows);
  CHECK(plan.payload_least_kg == 5);
  CHECK(plan.payload_greatest_kg == 25);
  REQUIRE(plan.places.size() == 9);
  CHECK(plan.places.front().y_m == base::test::near(-0.6));
  CHECK(plan.places.back().y_m == base::test::near(0.8));
  double furthest = 0;
  for (const SharePlace& place : plan.places)
    for (const bool full : {false, true}) {
      const double load = 60 + (full ? 25 : 5), share = full ? place.share_full : place.share;
      const double mass = 160 + 70 + load, moment = 5 + (40 - 30) * 1 + load * place.y_m;
      const double a = share * 1.1, b = (1 - share) * 0.95;       // real newtons of one commanded
      CHECK(std::abs((b - a) / (a + b) - moment / mass) < 1e-9);  // A at -1 m, B at 1 m
      furthest = std::max(furthest, std::abs(share - plan.constant));
    }
  CHECK(plan.constant_wrong == base::test::near(furthest));
  // Half the payload lies half way between both; beyond the greatest it stays there.
  const SharePlace& end = plan.places.back();
  CHECK(share_at_place(plan, 0.8, 15) == base::test::near((end.share + end.share_full) / 2));
  CHECK(share_at_place(plan, 0.8, 99) == end.share_full);
  CHECK(share_at_place(plan, 0.8) == end.share);
}

// The constant weighs each place's distance with what moves there: at the best one both ends are equally wrong, and
// any other share makes one of them worse.
TEST_CASE("the one constant share is the least wrong: no neighbour of it has a smaller worst fight") {
  identification::Identified id;
  dynamics::Plant& p = id.plant;
  p.span_m = 2, p.fixed_mass_kg = 100, p.fixed_inertia_kg_m2 = 60, p.carriage_mass_kg = 80;
  machine::Machine m;
  m.span_m = 2, m.carriage_min_y_m = -0.7, m.carriage_max_y_m = 0.3, m.payload_max_kg = 60;
  const SharePlan plan = share_plan(id, m);
  const auto worst = [&](double share) {
    double most = 0;
    for (const SharePlace& place : plan.places)
      most = std::max({most, 180 * std::abs(share - place.share), 240 * std::abs(share - place.share_full)});
    return most;
  };
  CHECK(worst(plan.constant) < worst(plan.constant + 1e-6));
  CHECK(worst(plan.constant) < worst(plan.constant - 1e-6));
  m.share_is_constant = true;
  CHECK(share_at_place(share_plan(id, m), 0.3) == plan.constant);
}

}  // namespace evenbeam::tuning
