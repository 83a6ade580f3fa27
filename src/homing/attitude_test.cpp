#include "homing/attitude.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "homing/attitude_findings.h"
#include "homing/take_out.h"

namespace evenbeam::homing {
namespace {

TakeOutInput stiff_bridge() {
  return {.span_m = 2,
          .from_skew_m = 0.4e-3,
          .doubt_m = 5e-6,
          .yaw_stiffness_n_m_per_rad = base::Estimate{2e6, 1.9e6, 2.1e6},
          .friction_n = 60.0,
          .allowable_skew_m = 1e-3,
          .allowable_moment_n_m = 1200.0};
}

AttitudeInput half_a_millimetre() {
  return {.span_m = 2,
          .square_skew_m = -0.5e-3,
          .doubt_m = 20e-6,
          .yaw_stiffness_n_m_per_rad = base::Estimate{1e6, 0.9e6, 1.1e6},
          .guide_arm_m = 0.25,
          .guide_standing_force_n = 800.0,
          .allowable_skew_m = 2e-3,
          .thermal_skew_m = 10e-6};
}

}  // namespace

TEST_CASE("moment and fight on the way are K s/L and K s/L^2 with both frictions") {
  const TakeOut t = take_out(stiff_bridge());
  CHECK(t.advice == Advice::one_go);
  CHECK(t.largest_moment_n_m == base::test::near(2.1e6 * 0.4e-3 / 2));
  CHECK(t.largest_fight_n == base::test::near(2.1e6 * 0.4e-3 / 4 + 30));
  CHECK(t.way.front().moment_low == base::test::near(1.9e6 * 0.4e-3 / 2));
  CHECK(t.way.back().moment_high == 0);
  // A trip acting in a tenth of a second comes before a twentieth of what is allowed.
  CHECK(t.rate_m_per_s * kReaction_s <= kNotMore * 1e-3 + 1e-15);
  CHECK(t.time_s == base::test::near(0.4e-3 / t.rate_m_per_s));
}

TEST_CASE("in steps over half of what is allowed, released beyond it, refused where it shall stay beyond it") {
  TakeOutInput in = stiff_bridge();
  in.from_skew_m = 0.7e-3;
  CHECK(take_out(in).advice == Advice::in_steps);
  CHECK(take_out(in).steps > 1);
  in.from_skew_m = 1.05e-3;
  CHECK(take_out(in).advice == Advice::release_end);
  in = stiff_bridge(), in.to_skew_m = -1.2e-3;
  const TakeOut refused = take_out(in);
  CHECK(refused.advice == Advice::refuse);
  CHECK(refused.reach_m == base::test::near(-1e-3));
  in = stiff_bridge(), in.force_limit_n = 200.0;
  CHECK(take_out(in).advice == Advice::release_end);
  in = stiff_bridge(), in.from_skew_m = 4e-6;
  CHECK(take_out(in).advice == Advice::nothing);
  in = stiff_bridge(), in.yaw_stiffness_n_m_per_rad.reset();
  CHECK(take_out(in).advice == Advice::not_known);
  in.turns_freely = true;
  CHECK(take_out(in).largest_moment_n_m == 0);
}

TEST_CASE("the smallest offset that keeps the squareness wanted, doubt and heat included") {
  AttitudeInput in = half_a_millimetre();
  in.squareness_wanted_rad = 100e-6;
  const AttitudeTrade t = attitude_trade(in);
  CHECK(t.wanted_is_reached);
  CHECK(t.recommended.out_of_square_rad == base::test::near(100e-6));
  // (1 - p) 0.5 mm = 100 urad 2 m - 20 um - 10 um
  CHECK(t.recommended.part == base::test::near(1 - 0.17 / 0.5));
  CHECK(t.recommended.fight_n == base::test::near(1e6 * std::abs(t.recommended.skew_m) / 4));
  in.squareness_wanted_rad = 10e-6;  // less than doubt and heat alone
  CHECK_FALSE(attitude_trade(in).wanted_is_reached);
}

TEST_CASE("life goes with the third power of the load, heat and stiff end included") {
  const AttitudeTrade t = attitude_trade(half_a_millimetre());
  const AttitudePoint& square = t.curve.back();
  const double lateral = 1e6 * 0.5e-3 / 2 / 0.5, worst = 1.1e6 * 0.51e-3 / 2 / 0.5;
  CHECK(*square.life_ratio == base::test::near(std::pow(800 / (800 + lateral), 3)));
  CHECK(*square.life_ratio_worst == base::test::near(std::pow(800 / (800 + worst), 3)));
  CHECK(t.recommended.part == 0);  // half of the life is too much for a squareness that nobody asked for
  AttitudeInput cheap = half_a_millimetre();
  cheap.yaw_stiffness_n_m_per_rad = base::Estimate{2e4, 2e4, 2e4};
  CHECK(attitude_trade(cheap).recommended.part == 1);
  cheap.square_skew_m = 10e-6;
  CHECK(attitude_trade(cheap).recommended.part == 0);  // the same within what is known
}

TEST_CASE("whichever zero is kept, the offsets differ by b - a and the axis zero stands where it is said") {
  for (const auto kept : {machine::KeptZero::side_a, machine::KeptZero::side_b, machine::KeptZero::middle})
    for (const double zero : {0.0, 12e-3}) {
      const HomeOffsets o{.known = true,
                          .b_minus_a_m = 2.1e-3,
                          .lower_m = 2e-3,
                          .upper_m = 2.3e-3,
                          .kept = kept,
                          .axis_zero_m = zero};
      CAPTURE(to_text(kept));
      CAPTURE(zero);
      const SideOffset a = offset_a(o), b = offset_b(o);
      CHECK(a.value_m - b.value_m == base::test::near(2.1e-3));
      // Both read zero with a = -offset A, b = -offset B.
      CHECK(axis_zero_from_marks_m(o) == base::test::near(-(a.value_m + b.value_m) / 2).scale(1e-6));
      if (kept == machine::KeptZero::side_a) CHECK(a.value_m == base::test::near(-zero).scale(1e-6));
      if (kept == machine::KeptZero::side_b) CHECK(b.value_m == base::test::near(-zero).scale(1e-6));
      if (kept == machine::KeptZero::middle) CHECK(axis_zero_from_marks_m(o) == base::test::near(zero).scale(1e-6));
      CHECK(a.lower_m <= a.value_m);
      CHECK(b.value_m <= b.upper_m);
      CHECK(a.upper_m - a.lower_m + b.upper_m - b.lower_m == base::test::near(0.3e-3));
    }
  const HomeOffsets middle{.known = true,
                           .attitude = "free",
                           .recorded = true,
                           .b_minus_a_m = -1e-3,
                           .lower_m = -1.1e-3,
                           .upper_m = -0.9e-3,
                           .kept = machine::KeptZero::middle};
  CHECK(offsets_finding(middle).text ==
        "Home free: both zeros move, A's 0.5000 mm towards +x of A's mark and B's 0.5000 mm towards -x of B's mark. "
        "The axis zero, the middle between the sides, stays at the middle of both marks.");
}

TEST_CASE("the skew that is allowed keeps both limits, the moment's with the stiffness at its upper end") {
  const base::Estimate stiffness{2e6, 1.9e6, 2.1e6};
  CHECK(*allowed_skew_m(1.5e-3, 1050.0, stiffness, 2) == base::test::near(1e-3));
  CHECK(*allowed_skew_m(0.5e-3, 1050.0, stiffness, 2) == base::test::near(0.5e-3));
  CHECK(*allowed_skew_m({}, 1050.0, stiffness, 2) == base::test::near(1e-3));
  CHECK(*allowed_skew_m(1.5e-3, 1050.0, {}, 2) == base::test::near(1.5e-3));
  CHECK_FALSE(allowed_skew_m({}, {}, stiffness, 2).has_value());
}

TEST_CASE("an electrical angle whose loss passes the limit is a stop, and says what is lost") {
  constexpr double degree = 3.14159265358979 / 180;
  machine::ElectricalAngles angles{.read_rad = {30 * degree, 31 * degree, 29 * degree, 30.5 * degree, 29.5 * degree}};
  const base::Finding fine = angle_finding(angle_at_mark(angles), "A", 0.02);
  CHECK(fine.verdict == base::Verdict::pass);
  CHECK(angle_finding(angle_at_mark(angles), "A", *fine.value * 0.99).verdict == base::Verdict::stop);
  angles.true_rad = 50 * degree;  // twenty degrees off: six per cent of the force
  const base::Finding off = angle_finding(angle_at_mark(angles), "A", 0.02);
  CHECK(off.verdict == base::Verdict::stop);
  CHECK(*off.value > 1 - std::cos(21 * degree));
  CHECK_FALSE(off.next.empty());
}

}  // namespace evenbeam::homing
